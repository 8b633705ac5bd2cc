#include <math.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "limits/limits_read.h"

/* The element being read. */
struct reading {
    const struct limits *limits;
    const struct xml *xml;
    const struct xml_node *node;
    struct error *e;
};

static bool line_make(struct bound_line *line, size_t n_points, struct error *e)
{
    line->frequency_hz = memory_make(n_points, sizeof *line->frequency_hz, e);
    if (!line->frequency_hz) return false;
    line->value = memory_make(n_points, sizeof *line->value, e);
    if (!line->value) return false;
    line->n_points = n_points;
    return true;
}

/* A `min` or `max` over a band as a line: two points, or one for a spot band. */
static bool read_flat_bound(struct bound_line *line, const struct reading *r, const char *attribute,
                            const struct band *band, enum unit unit)
{
    bool spot = !band || band->from_hz == band->to_hz;
    double value = 0;

    if (!xml_value(r->xml, r->node, attribute, unit, &value, r->e)) return false;
    if (!line_make(line, spot ? 1 : 2, r->e)) return false;
    line->value[0] = line->value[line->n_points - 1] = value;
    if (band) {
        line->frequency_hz[0] = band->from_hz;
        line->frequency_hz[line->n_points - 1] = band->to_hz;
    }
    return true;
}

static bool read_corners(struct bound_line *line, const struct reading *r,
                         const struct xml_node *mask, enum unit unit)
{
    size_t n = 0, i = 0;

    for (const struct xml_node *p = xml_child(mask, "point"); p; p = xml_next(p, "point"))
        n++;
    if (!line_make(line, n, r->e)) return false;
    for (const struct xml_node *p = xml_child(mask, "point"); p; p = xml_next(p, "point"), i++) {
        if (!xml_value(r->xml, p, "at", UNIT_HZ, &line->frequency_hz[i], r->e)) return false;
        if (!xml_value(r->xml, p, "value", unit, &line->value[i], r->e)) return false;
        if (i > 0 && !(line->frequency_hz[i] > line->frequency_hz[i - 1]))
            return xml_fault(r->xml, p, r->e,
                             "the mask runs backwards: its points must rise in "
                             "frequency");
    }
    return true;
}

/* Cuts the line to the band; its ends get the line's own values there. */
static bool clip_to_band(struct bound_line *line, const struct reading *r, const struct band *band)
{
    double from_hz = fmax(line->frequency_hz[0], band->from_hz);
    double to_hz = fmin(line->frequency_hz[line->n_points - 1], band->to_hz);
    double from_value = bound_line_at(line, from_hz), to_value = bound_line_at(line, to_hz);
    size_t kept = 1;

    if (!(from_hz <= to_hz))
        return xml_fault(r->xml, r->node, r->e,
                         "the mask and the band \"%s\" have no frequency in common", band->id);
    /* In place: the inner corners move down, never up, because at most one point is put before. */
    for (size_t i = 0; i < line->n_points; i++) {
        double at_hz = line->frequency_hz[i], value = line->value[i];

        if (!(at_hz > from_hz && at_hz < to_hz)) continue;
        line->frequency_hz[kept] = at_hz;
        line->value[kept++] = value;
    }
    line->frequency_hz[0] = from_hz;
    line->value[0] = from_value;
    if (to_hz > from_hz) {
        line->frequency_hz[kept] = to_hz;
        line->value[kept++] = to_value;
    }
    line->n_points = kept;
    return true;
}

/* One side of the limit: an attribute over the band, or a mask line, not both. */
static bool read_side(struct bound_line *line, struct limit *out, const struct reading *r,
                      const char *attribute, const char *element, const struct band *band)
{
    const struct xml_node *mask = xml_child(r->node, element);

    if (mask && xml_has(r->node, attribute))
        return xml_fault(r->xml, r->node, r->e, "%s and <%s> bound the same side: keep one",
                         attribute, element);
    if (mask) {
        out->is_mask = true;
        if (!read_corners(line, r, mask, out->quantity->unit)) return false;
        return !band || clip_to_band(line, r, band);
    }
    if (!xml_has(r->node, attribute)) return true;
    if (!band && out->quantity->shape != OVER_CURRENT)
        return xml_fault(r->xml, r->node, r->e, "%s needs a band to apply in: name one with band",
                         attribute);
    return read_flat_bound(line, r, attribute, band, out->quantity->unit);
}

static bool lower_above_upper(const struct bound_line *corners, const struct limit *limit,
                              double *at_hz)
{
    for (size_t i = 0; i < corners->n_points; i++) {
        *at_hz = corners->frequency_hz[i];
        if (bound_line_at(&limit->lower, *at_hz) > bound_line_at(&limit->upper, *at_hz))
            return true;
    }
    return false;
}

static bool check_sides(const struct limit *out, const struct reading *r)
{
    double at_hz = 0;
    char words[VALUE_TEXT];

    if (out->lower.n_points == 0 && out->upper.n_points == 0)
        return xml_fault(r->xml, r->node, r->e,
                         "the limit \"%s\" bounds nothing: give min, max, <lower> or <upper>",
                         out->id);
    if (!lower_above_upper(&out->lower, out, &at_hz) &&
        !lower_above_upper(&out->upper, out, &at_hz))
        return true;
    if (!out->is_mask)
        return xml_fault(r->xml, r->node, r->e, "the min of \"%s\" is above its max", out->id);
    return xml_fault(r->xml, r->node, r->e,
                     "the lower bound of \"%s\" is above its upper bound at %s", out->id,
                     value_words(at_hz, UNIT_HZ, words));
}

static bool read_bounds(struct limit *out, const struct reading *r)
{
    const struct band *band = NULL;

    if (!xml_attribute(r->node, "band", &out->band_id, r->e)) return false;
    for (size_t i = 0; out->band_id && i < r->limits->n_bands; i++)
        if (strcmp(r->limits->bands[i].id, out->band_id) == 0) band = &r->limits->bands[i];
    if (out->band_id && !band)
        return xml_fault(r->xml, r->node, r->e, "there is no band \"%s\"", out->band_id);
    if (band && band->from_hz == band->to_hz && out->quantity->shape == OVER_BAND)
        return xml_fault(r->xml, r->node, r->e,
                         "a flatness needs a band with from and to: at one frequency every gain is "
                         "flat");
    if (!read_side(&out->lower, out, r, "min", "lower", band)) return false;
    if (!read_side(&out->upper, out, r, "max", "upper", band)) return false;
    if (!check_sides(out, r)) return false;
    if (xml_has(r->node, "max-step") && band)
        return xml_fault(r->xml, r->node, r->e,
                         "max-step belongs to the band \"%s\"; here it is for masks without a band",
                         band->id);
    if (band) out->max_step_hz = band->max_step_hz;
    if (!xml_value(r->xml, r->node, "max-step", UNIT_HZ, &out->max_step_hz, r->e)) return false;
    if (xml_has(r->node, "max-step") && !(out->max_step_hz > 0))
        return xml_fault(r->xml, r->node, r->e, "max-step must be above 0 Hz");
    return true;
}

static bool find_bias(const struct reading *r, const char *id, size_t length, size_t *out)
{
    for (size_t i = 0; i < r->limits->n_biases; i++) {
        if (strlen(r->limits->biases[i].id) != length) continue;
        if (memcmp(r->limits->biases[i].id, id, length) != 0) continue;
        *out = i;
        return true;
    }
    if (length == 3 && memcmp(id, "all", length) == 0)
        return xml_fault(r->xml, r->node, r->e,
                         "\"all\" means every bias step: let it stand alone in bias");
    return xml_fault(r->xml, r->node, r->e,
                     "there is no bias step \"%.*s\": name one of "
                     "<bias-steps>, or all",
                     (int)length, id);
}

static bool read_bias_attribute(const struct reading *r, const char *attribute, size_t *out)
{
    char *id = NULL;
    bool ok;

    if (!xml_attribute(r->node, attribute, &id, r->e)) return false;
    ok = !id || find_bias(r, id, strlen(id), out);
    memory_free(id);
    return ok;
}

/* The set of bias steps: all, or a list with blanks or commas between. */
static bool read_bias_list(struct limit *out, const struct reading *r)
{
    const uint64_t every = UINT64_MAX >> (64 - r->limits->n_biases);
    char *list = NULL;
    bool ok = true;

    if (!xml_attribute(r->node, "bias", &list, r->e)) return false;
    if (!list || strcmp(list, "all") == 0) {
        out->biases = every;
    } else {
        for (const char *p = list + strspn(list, " ,"); ok && *p; p += strspn(p, " ,")) {
            size_t length = strcspn(p, " ,"), index = 0;

            ok = find_bias(r, p, length, &index);
            out->biases |= (uint64_t)1 << index;
            p += length;
        }
        if (ok && out->biases == 0)
            ok = xml_fault(r->xml, r->node, r->e, "bias names no bias step");
    }
    memory_free(list);
    return ok;
}

static bool read_steps(struct limit *out, const struct reading *r)
{
    out->from = 0;
    out->to = r->limits->n_biases - 1;
    if (!read_bias_attribute(r, "from", &out->from)) return false;
    if (!read_bias_attribute(r, "to", &out->to)) return false;
    if (out->from == out->to)
        return xml_fault(r->xml, r->node, r->e,
                         "a %s needs two bias steps: let from and to name different ones",
                         out->quantity->words);
    if (out->quantity->shape == OVER_SLOPE && out->from > out->to) {
        size_t higher = out->from;

        out->from = out->to;
        out->to = higher;
    }
    return true;
}

static bool read_over(struct limit *out, const struct reading *r)
{
    enum quantity_shape shape = out->quantity->shape;
    char *method = NULL;

    if (shape == OVER_SLOPE || shape == OVER_RANGE) {
        if (!xml_attribute(r->node, "method", &method, r->e)) return false;
        if (method && strcmp(method, "fit") == 0) out->method = SLOPE_FIT;
        memory_free(method);
        return read_steps(out, r);
    }
    if (!read_bias_list(out, r)) return false;
    if (shape != OVER_SHIFT) return true;
    if (!read_bias_attribute(r, "reference", &out->reference)) return false;
    out->biases &= ~((uint64_t)1 << out->reference);
    if (out->biases == 0)
        return xml_fault(r->xml, r->node, r->e, "a shift needs a bias step besides its reference");
    return true;
}

static bool read_uncertainty(struct limit *out, const struct reading *r)
{
    char *text = NULL;
    bool reflection = strstr(out->quantity->name, "-reflection") != NULL;
    bool ok;

    if (!xml_attribute(r->node, "uncertainty", &text, r->e)) return false;
    if (!text) return true;
    out->has_uncertainty = true;
    out->linear_uncertainty = reflection && value_parse(text, UNIT_ONE, &out->uncertainty);
    ok = out->linear_uncertainty ||
         xml_value(r->xml, r->node, "uncertainty", out->quantity->unit, &out->uncertainty, r->e);
    memory_free(text);
    return ok;
}

bool limits_read_limit(struct limit *out, const struct limits *limits, const struct xml *xml,
                       const struct xml_node *node, struct error *e)
{
    const struct reading r = {limits, xml, node, e};
    const struct xml_node *advice = xml_child(node, "when-failed");

    out->quantity = quantity_find(xml_name(node));
    if (!xml_attribute(node, "id", &out->id, e)) return false;
    if (!read_bounds(out, &r)) return false;
    if (!read_over(out, &r)) return false;
    if (!read_uncertainty(out, &r)) return false;
    return !advice || xml_content(advice, &out->when_failed, e);
}
