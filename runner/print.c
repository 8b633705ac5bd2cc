#include "runner/print.h"

#include "drivers/base/plain.h"

void print_plain(FILE *out, const char *words)
{
    struct text plain = {0};

    text_add_plain(&plain, words, "");
    (void)fprintf(out, "%s", text_words(&plain));
    text_clear(&plain);
}
