#include "drivers/sweep_file.h"

#include <string.h>
#include <strings.h>

#include "drivers/base/file.h"
#include "drivers/sweep_csv.h"
#include "drivers/touchstone.h"

static const char *ending_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    const char *dot = strrchr(slash ? slash + 1 : path, '.');

    return dot ? dot + 1 : "";
}

bool sweep_file_name(const char *path)
{
    const char *ending = ending_of(path);
    size_t digits;

    if (strcasecmp(ending, "ts") == 0 || strcasecmp(ending, "csv") == 0) return true;
    if (*ending != 's' && *ending != 'S') return false;
    digits = strspn(ending + 1, "0123456789");
    return digits > 0 && strcasecmp(ending + 1 + digits, "p") == 0;
}

bool sweep_file_read(const char *path, struct text *bytes, struct sweep *out, struct error *e)
{
    sweep_reset(out);
    if (!file_read(path, CEILING_SWEEP_FILE, bytes, e)) return false;
    if (strcasecmp(ending_of(path), "csv") == 0)
        return sweep_csv_read(path, bytes->data, bytes->length, out, e);
    return touchstone_read(path, bytes->data, bytes->length, out, e);
}
