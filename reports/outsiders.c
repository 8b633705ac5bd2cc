#include "reports/outsiders.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "reports/page_parts.h"

/* Lines of the whole page, and of one picture: beyond these a page gets slow and its pictures
 * black. */
#define MOST_LINES ((size_t)2400)
#define MOST_OF_PICTURE ((size_t)200)
#define LEAST_OF_PICTURE ((size_t)10)

static int furthest_first(const void *a, const void *b)
{
    const struct outsider *left = a, *right = b;
    int order = (left->severity > right->severity) - (left->severity < right->severity);

    return order ? order : (left->unit > right->unit) - (left->unit < right->unit);
}

bool outsiders_find(struct outsiders *out, const struct batch *batch, outsiders_concern *concerns,
                    const void *picture, size_t n_pictures, struct error *e)
{
    const size_t share = MOST_LINES / (n_pictures ? n_pictures : 1);
    const size_t most = share > MOST_OF_PICTURE    ? MOST_OF_PICTURE
                        : share < LEAST_OF_PICTURE ? LEAST_OF_PICTURE
                                                   : share;
    struct outsiders made = {.list = memory_make(batch->n_units, sizeof *made.list, e)};

    if (!made.list) return false;
    for (size_t i = 0; i < batch->n_units; i++) {
        const struct judgement *judgement = batch->units[i].judgement;
        double severity = INFINITY;

        for (size_t k = 0; judgement->n_failed > 0 && k < judgement->n_findings; k++)
            if (finding_has_failed(&judgement->findings[k]) &&
                concerns(picture, &judgement->findings[k]))
                severity = fmin(severity, judgement->findings[k].severity);
        if (severity < INFINITY) made.list[made.n++] = (struct outsider){i, severity};
    }
    qsort(made.list, made.n, sizeof *made.list, furthest_first);
    made.n_drawn = made.n < most ? made.n : most;
    *out = made;
    return true;
}

void outsiders_clear(struct outsiders *outsiders)
{
    memory_free(outsiders->list);
    *outsiders = (struct outsiders){0};
}

void outsider_open(struct html *h, const struct batch *batch, const struct batch_unit *unit,
                   outsiders_concern *concerns, const void *picture)
{
    const struct judgement *judgement = unit->judgement;
    struct text words = {0};

    text_add(&words, judgement->serial);
    for (size_t i = 0; i < judgement->n_findings; i++)
        if (finding_has_failed(&judgement->findings[i]) &&
            concerns(picture, &judgement->findings[i]))
            text_addf(&words, "%s %s", words.length == strlen(judgement->serial) ? ":" : ",",
                      judgement->findings[i].limit->id);
    if (batch_has_page(batch->unit_pages, judgement)) {
        html_open(h, "a");
        page_unit_href(h, "units/", judgement->serial);
    } else {
        html_open(h, "g");
    }
    html_attribute(h, "class", "unit");
    html_need(h, &words);
    html_element(h, "title", NULL, text_words(&words));
    text_clear(&words);
}
