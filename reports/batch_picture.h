/* The pictures of the batch page, one function a kind: how all units lie, and every unit outside a
 * limit for itself, linked to its page. */
#ifndef GAINSIEVE_BATCH_PICTURE_H
#define GAINSIEVE_BATCH_PICTURE_H

#include "reports/batch.h"
#include "reports/outsiders.h"
#include "reports/pictures.h"
#include "reports/spread.h"

/* What the pictures of one page have in common. */
struct gallery {
    struct html *html;
    const struct batch *batch;
    size_t n_pictures; /* in which units are drawn for themselves: they share the page's lines */
};

/* Each writes one figure; fails on lack of memory only. */
bool batch_picture_view(const struct gallery *g, size_t view, struct error *e) MUST_CHECK;
bool batch_picture_smith(const struct gallery *g, size_t view, struct error *e) MUST_CHECK;
bool batch_picture_bias(const struct gallery *g, struct error *e) MUST_CHECK;

/* Parts of them. */

/* What an arrow at the frame says. */
#define BATCH_ARROW_FAILED "failed a limit, outside this picture"
#define BATCH_ARROW "a unit outside this picture that failed none here"

/* Fewer units than BATCH_SMALL: no spread, each for itself. */
bool batch_is_small(const struct batch *batch);
/* The units of a small batch that are not outside, then the outsiders: the nth in drawing order,
 * or false at the end. */
bool batch_next_drawn(const struct batch *batch, const struct outsiders *outside, size_t *cursor,
                      size_t *unit, bool *is_outside);
/* The median, the middle half and the middle 98 % of `n_units` units, and how far the last ones
 * reach; at most VIEW_COLUMNS places. Under 99 units the 1 % and 99 % points are beyond the
 * first and the last unit: the outer band then holds all. */
void batch_draw_spread(struct plot *p, const double *x, const struct spread *spread, size_t n,
                       size_t n_units);
/* A unit's line within its link or group, or an arrow when it lies outside the picture; nothing for
 * an empty one. `failed_parts` of it are drawn thick; NULL for none. */
void batch_draw_unit(struct plot *p, const struct batch *batch, size_t unit, bool is_outside,
                     const struct trace *trace, const struct trace *failed_parts,
                     outsiders_concern *concerns, const void *picture);
/* Widens `y` by the middle 98 % of one place, but no further from the middle half than three times
 * its size: few units have no last hundredth that could be left out. */
void batch_take_most(struct plot_range *y, const struct spread *spread);
/* Widens `y` by `lines`, but at most by its own size on each side: one dead board would press all
 * others flat. */
void batch_widen(struct plot_range *y, const struct plot_range *lines);
/* Says when not every unit outside a limit is drawn, which names found no room, and who lies
 * outside the picture when that is not written there; nothing otherwise. */
void batch_add_left_out(struct text *out, const struct outsiders *outside,
                        const struct plot_names *names);

#endif
