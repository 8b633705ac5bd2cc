#include "reports/page_pictures.h"

#include "reports/batch_picture.h"
#include "reports/page_parts.h"

static void open_part(struct html *h, const char *heading)
{
    html_element(h, "h3", NULL, heading);
    html_open(h, "div");
    html_attribute(h, "class", "plots");
}

/* The pictures of one kind under their heading; gain against bias goes with gain. */
static bool write_views(const struct gallery *g, enum s_parameter parameter, const char *heading,
                        bool (*write)(const struct gallery *, size_t, struct error *),
                        struct error *e)
{
    const bool with_bias = parameter == S21 && picture_has_bias(g->batch->limits);
    const struct views *views = g->batch->views;
    bool is_open = with_bias, ok = true;

    if (is_open) open_part(g->html, heading);
    for (size_t v = 0; ok && v < views->n; v++) {
        if (views->view[v].parameter != parameter) continue;
        if (!is_open) open_part(g->html, heading);
        is_open = true;
        ok = write(g, v, e);
    }
    if (with_bias) ok = ok && batch_picture_bias(g, e);
    if (is_open) html_close(g->html);
    return ok;
}

/* Every view of S11 is two pictures, and gain against bias is one more. */
static size_t count_pictures(const struct views *views)
{
    size_t n = 1;

    for (size_t v = 0; v < views->n; v++)
        n += views->view[v].parameter == S11 ? 2 : 1;
    return n;
}

bool page_has_pictures(const struct batch *batch)
{
    return batch->views->n > 0 || picture_has_bias(batch->limits);
}

bool page_pictures_write(struct html *h, const struct batch *batch, struct error *e)
{
    const struct gallery gallery = {h, batch, count_pictures(batch->views)};

    if (!page_has_pictures(batch)) return true;
    page_section(h, "pictures", "Pictures");
    html_open(h, "p");
    html_attribute(h, "class", "soft");
    html_text(h, "A band holds the middle of all units at each frequency; a unit that failed a "
                 "limit of its picture is a dashed line, with its serial number where there is "
                 "room. Point at a line, or move to it with the keyboard, to see whose it is.");
    html_close(h);
    return write_views(&gallery, S21, "Gain", batch_picture_view, e) &&
           write_views(&gallery, S11, "Input reflection", batch_picture_view, e) &&
           write_views(&gallery, S11, "Input impedance", batch_picture_smith, e);
}
