/* Units outside a limit of one picture, furthest out first: these are drawn for themselves. */
#ifndef GAINSIEVE_OUTSIDERS_H
#define GAINSIEVE_OUTSIDERS_H

#include "reports/batch.h"
#include "reports/html.h"

struct outsider {
    size_t unit;     /* index in the batch */
    double severity; /* of its worst limit of the picture, as in struct finding */
};

struct outsiders {
    size_t n;       /* how many there are */
    size_t n_drawn; /* the first of them: as many as one picture of this batch can hold */
    struct outsider *list;
};

/* Whether a finding puts its unit outside something that the picture shows. */
typedef bool outsiders_concern(const void *picture, const struct finding *finding);

/* Finds them; freed with outsiders_clear(). `n_pictures` share the lines of the page. Fails on lack
 * of memory only. */
bool outsiders_find(struct outsiders *out, const struct batch *batch, outsiders_concern *concerns,
                    const void *picture, size_t n_pictures, struct error *e) MUST_CHECK;
void outsiders_clear(struct outsiders *outsiders);

/* Opens what a unit is drawn in: a link to its page, or a group when it has none, with its serial
 * number and the limits of the picture that it failed as title. Ended with html_close(). */
void outsider_open(struct html *h, const struct batch *batch, const struct batch_unit *unit,
                   outsiders_concern *concerns, const void *picture);

#endif
