#include "limits/limits_read.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "limits/coverage.h"

extern const struct embedded limits_xsd;

/* The head of the patterns in limits.xsd that take no minus sign. */
#define NOT_NEGATIVE "'\\+?([0-9]+(\\.[0-9]*)?|\\.[0-9]+)([eE][+\\-]?[0-9]+)?"

#define NAMESPACE "{urn:gainsieve:limits:1}"

/* What to write where the schema refuses something. The part is the end of a type's pattern, or
 * the whole one where a minus sign makes the difference; or the name of a key. */
static const struct xml_hint hints[] = {
    {NOT_NEGATIVE " *dB/V'", "a number that is not negative and dB/V, such as \"0.3 dB/V\""},
    {NOT_NEGATIVE " *dB'", "a number that is not negative and dB, such as \"0.15 dB\""},
    {NOT_NEGATIVE " *ohm'", "a number that is not negative and ohm, such as \"50 ohm\""},
    {NOT_NEGATIVE " *deg'", "a number that is not negative and deg, such as \"0.5 deg\""},
    {NOT_NEGATIVE " *[nup]s'",
     "a number that is not negative and ns (or ps, us), such as \"0.5 ns\""},
    {NOT_NEGATIVE " *[mu]?A'",
     "a number that is not negative and mA (or uA, A), such as \"0.05 mA\""},
    {NOT_NEGATIVE " *m?V'", "a number that is not negative and V or mV, such as \"10 mV\""},
    {NOT_NEGATIVE "'", "a bare number that is not negative, such as \"1\" or \"0.006\""},
    {" *dB/V'", "a number and dB/V, such as \"3 dB/V\""},
    {" *dB'", "a number and dB, such as \"22 dB\""},
    {" *ohm'", "a number and ohm, such as \"50 ohm\""},
    {" *deg'", "a number and deg, such as \"5 deg\""},
    {" *[nup]s'", "a number and ns (or ps, us), such as \"3.5 ns\""},
    {" *[mu]?A'", "a number and mA (or uA, A), such as \"45 mA\""},
    {" *([kMG]?Hz)'", "a number and Hz, kHz, MHz or GHz, such as \"160 MHz\""},
    {" *m?V'", "a number and V or mV, such as \"2.40 V\""},
    {"reflection-uncertainty'",
     "a number and dB (\"0.3 dB\"), or a bare number for linear abs(S) (\"0.006\")"},
    {"[0-9]+)?'", "a bare number, such as \"1.5\""},
    {"[A-Za-z0-9][A-Za-z0-9._\\-]{0,63}'",
     "a name of at most 64 letters, digits, '.', '_' and '-' that begins with a letter or digit"},
    {"keyref '" NAMESPACE "band'", "the id of a <band> of this file"},
    {"keyref '" NAMESPACE "from'", "the id of a <bias> of this file"},
    {"keyref '" NAMESPACE "to'", "the id of a <bias> of this file"},
    {"keyref '" NAMESPACE "reference'", "the id of a <bias> of this file"},
    {"'" NAMESPACE "bias-ids'", "an id that no other bias step has"},
    {"'" NAMESPACE "band-ids'", "an id that no other band has"},
    {"'" NAMESPACE "limit-ids'", "an id that no other limit has"},
    {"No matching global declaration",
     "<limits xmlns=\"urn:gainsieve:limits:1\" ...> around everything"},
    {NULL, NULL},
};

static void bound_line_clear(struct bound_line *line)
{
    memory_free(line->frequency_hz);
    memory_free(line->value);
}

void limits_clear(struct limits *limits)
{
    for (size_t i = 0; i < limits->n_biases; i++)
        memory_free(limits->biases[i].id);
    for (size_t i = 0; i < limits->n_bands; i++)
        memory_free(limits->bands[i].id);
    for (size_t i = 0; i < limits->n_limits; i++) {
        memory_free(limits->limits[i].id);
        memory_free(limits->limits[i].band_id);
        memory_free(limits->limits[i].when_failed);
        bound_line_clear(&limits->limits[i].lower);
        bound_line_clear(&limits->limits[i].upper);
    }
    memory_free(limits->biases);
    memory_free(limits->bands);
    memory_free(limits->limits);
    memory_free(limits->path);
    memory_free(limits->product);
    memory_free(limits->revision);
    memory_free(limits->note);
    serial_rule_clear(&limits->serial);
    *limits = (struct limits){0};
}

static size_t count_children(const struct xml_node *node, const char *name)
{
    size_t n = 0;

    for (node = xml_child(node, name); node; node = xml_next(node, name))
        n++;
    return n;
}

static bool read_head(struct limits *out, const struct xml *xml, struct error *e)
{
    const struct xml_node *root = xml_root(xml);
    const struct xml_node *note = xml_child(root, "note");

    if (!xml_attribute(root, "product", &out->product, e)) return false;
    if (!xml_attribute(root, "revision", &out->revision, e)) return false;
    if (note && !xml_content(note, &out->note, e)) return false;
    if (!xml_value(xml, root, "impedance", UNIT_OHM, &out->impedance_ohm, e)) return false;
    if (!(out->impedance_ohm > 0))
        return xml_fault(xml, root, e, "impedance must be above 0 ohm, usually \"50 ohm\"");
    return true;
}

static bool read_serial_rule(struct limits *out, const struct xml *xml, struct error *e)
{
    const struct xml_node *node = xml_child(xml_root(xml), "serial-numbers");
    enum check_character check = CHECK_NONE;
    struct error inner = {0};
    char *pattern = NULL, *name = NULL;
    bool ok = false;

    if (!node) return true;
    if (!xml_attribute(node, "pattern", &pattern, e)) goto done;
    if (!xml_attribute(node, "check-character", &name, e)) goto done;
    if (name && !check_character_find(name, &check)) {
        (void)xml_fault(xml, node, e, "check-character=\"%s\" is not known", name);
        goto done;
    }
    ok = serial_rule_make(&out->serial, pattern, check, &inner);
    if (!ok && inner.kind == ERROR_INPUT)
        (void)xml_fault(xml, node, e, "%s", inner.text);
    else if (!ok)
        (void)error_set(e, inner.kind, "%s", inner.text);
done:
    memory_free(pattern);
    memory_free(name);
    return ok;
}

static int by_voltage(const void *a, const void *b)
{
    const struct bias_step *left = a, *right = b;

    return (left->at_v > right->at_v) - (left->at_v < right->at_v);
}

static bool read_bias(struct bias_step *out, const struct xml *xml, const struct xml_node *node,
                      struct error *e)
{
    double as_number;

    if (!xml_attribute(node, "id", &out->id, e)) return false;
    if (!xml_value(xml, node, "at", UNIT_V, &out->at_v, e)) return false;
    if (strcmp(out->id, "all") == 0)
        return xml_fault(xml, node, e,
                         "a bias step may not be called \"all\", which means every "
                         "step: give it another id");
    if (number_parse(out->id, &as_number) || value_parse(out->id, UNIT_V, &as_number))
        return xml_fault(xml, node, e, "the id \"%s\" reads as a voltage: begin it with a letter",
                         out->id);
    return true;
}

static bool read_biases(struct limits *out, const struct xml *xml, struct error *e)
{
    const struct xml_node *steps = xml_child(xml_root(xml), "bias-steps");
    size_t n = count_children(steps, "bias");

    if (!xml_value(xml, steps, "tolerance", UNIT_V, &out->bias_tolerance_v, e)) return false;
    out->biases = memory_make(n, sizeof *out->biases, e);
    if (!out->biases) return false;
    for (const struct xml_node *node = xml_child(steps, "bias"); node;
         node = xml_next(node, "bias")) {
        if (!read_bias(&out->biases[out->n_biases++], xml, node, e)) return false;
    }
    qsort(out->biases, n, sizeof *out->biases, by_voltage);
    for (size_t i = 1; i < n; i++) {
        double apart_v = out->biases[i].at_v - out->biases[i - 1].at_v;

        if (apart_v > 2 * (out->bias_tolerance_v + SAME_VOLTAGE_V)) continue;
        return xml_fault(xml, steps, e,
                         "bias steps \"%s\" and \"%s\" lie within each other's tolerance: a "
                         "reading could belong to both",
                         out->biases[i - 1].id, out->biases[i].id);
    }
    return true;
}

static bool read_band(struct band *out, const struct xml *xml, const struct xml_node *node,
                      struct error *e)
{
    bool spot = xml_has(node, "at");

    if (!xml_attribute(node, "id", &out->id, e)) return false;
    if (spot == (xml_has(node, "from") || xml_has(node, "to")) ||
        xml_has(node, "from") != xml_has(node, "to"))
        return xml_fault(xml, node, e, "band \"%s\" needs either at, or from and to", out->id);
    if (!xml_value(xml, node, "max-step", UNIT_HZ, &out->max_step_hz, e)) return false;
    if (xml_has(node, "max-step") && !(out->max_step_hz > 0))
        return xml_fault(xml, node, e, "max-step of band \"%s\" must be above 0 Hz", out->id);
    if (spot) {
        if (!xml_value(xml, node, "at", UNIT_HZ, &out->from_hz, e)) return false;
        out->to_hz = out->from_hz;
        return true;
    }
    if (!xml_value(xml, node, "from", UNIT_HZ, &out->from_hz, e)) return false;
    if (!xml_value(xml, node, "to", UNIT_HZ, &out->to_hz, e)) return false;
    if (!(out->from_hz < out->to_hz))
        return xml_fault(xml, node, e,
                         "band \"%s\" is empty: from must be below to; write at for a single "
                         "frequency",
                         out->id);
    return true;
}

static bool read_bands(struct limits *out, const struct xml *xml, struct error *e)
{
    const struct xml_node *bands = xml_child(xml_root(xml), "bands");

    if (!bands) return true;
    out->bands = memory_make(count_children(bands, "band"), sizeof *out->bands, e);
    if (!out->bands) return false;
    for (const struct xml_node *node = xml_child(bands, "band"); node;
         node = xml_next(node, "band")) {
        if (!read_band(&out->bands[out->n_bands++], xml, node, e)) return false;
    }
    return true;
}

static bool read_decision(struct limits *out, const struct xml *xml, struct error *e)
{
    const struct xml_node *node = xml_child(xml_root(xml), "decision");
    char *rule = NULL;

    /* Without a word the stricter rule holds. */
    out->rule = GUARDED_ACCEPTANCE;
    out->guard_factor = 1;
    if (!node) return true;
    if (!xml_attribute(node, "rule", &rule, e)) return false;
    if (rule && strcmp(rule, "simple-acceptance") == 0) out->rule = SIMPLE_ACCEPTANCE;
    memory_free(rule);
    return xml_value(xml, node, "guard-factor", UNIT_ONE, &out->guard_factor, e);
}

static bool read_limits(struct limits *out, const struct xml *xml, struct error *e)
{
    const struct xml_node *root = xml_root(xml);

    out->limits = memory_make(count_children(root, NULL), sizeof *out->limits, e);
    if (!out->limits) return false;
    for (const struct xml_node *node = xml_child(root, NULL); node; node = xml_next(node, NULL)) {
        if (!quantity_find(xml_name(node))) continue;
        if (!limits_read_limit(&out->limits[out->n_limits++], out, xml, node, e)) return false;
    }
    return true;
}

bool limits_read(struct limits *out, const char *path, struct error *e)
{
    struct limits made = {0};
    struct xml *xml = NULL;
    bool ok = false;

    if (!xml_load(&xml, path, &limits_xsd, hints, e)) goto done;
    made.path = memory_copy_text(path, e);
    if (!made.path) goto done;
    (void)snprintf(made.sha256, sizeof made.sha256, "%s", xml_sha256(xml));
    if (!read_head(&made, xml, e)) goto done;
    if (!read_serial_rule(&made, xml, e)) goto done;
    if (!read_biases(&made, xml, e)) goto done;
    if (!read_bands(&made, xml, e)) goto done;
    if (!read_decision(&made, xml, e)) goto done;
    if (!read_limits(&made, xml, e)) goto done;
    *out = made;
    made = (struct limits){0};
    ok = true;
done:
    limits_clear(&made);
    xml_free(xml);
    return ok;
}
