#include "runner/progress.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "drivers/base/deadline.h"

void progress_start(struct progress *p, const char *words, const char *items, size_t n_items)
{
    *p = (struct progress){
        words, items, n_items, isatty(STDERR_FILENO) == 1, false, deadline_now_s(), 0};
}

void progress_show(struct progress *p, size_t n_done)
{
    double now = deadline_now_s(), spent_s = now - p->started_s;

    if (!p->on_terminal || spent_s < 1 || now - p->shown_s < 0.2) return;
    p->shown_s = now;
    p->shown = true;
    (void)fprintf(stderr, "\r%s %zu of %zu %s", p->words, n_done, p->n_items, p->items);
    if (n_done > 0)
        (void)fprintf(stderr, ", about %.0f s left   ",
                      spent_s / (double)n_done * (double)(p->n_items - n_done));
    (void)fflush(stderr);
}

void progress_end(struct progress *p)
{
    if (p->shown) (void)fprintf(stderr, "\r\033[K");
    p->shown = false;
}

bool colour_wanted(void)
{
    const char *no_color = getenv("NO_COLOR");

    return isatty(STDOUT_FILENO) == 1 && !(no_color && *no_color);
}
