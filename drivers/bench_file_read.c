#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "drivers/base/xml.h"
#include "drivers/bench_file.h"
#include "drivers/bench_file_ports.h"

extern const struct embedded bench_xsd;

/* The head of the patterns in bench.xsd that take no minus sign. */
#define NOT_NEGATIVE "'\\+?([0-9]+(\\.[0-9]*)?|\\.[0-9]+)([eE][+\\-]?[0-9]+)?"

/* Steps of a ramp: more is no ramp but a wait. */
#define MOST_RAMP_STEPS 1000
/* Steps of the ramp when the file does not say how large one is. */
#define USUAL_RAMP_STEPS 10

/* What to write where the schema refuses something; see limits_read.c. */
static const struct xml_hint hints[] = {
    {" *([kMG]?Hz)'", "a number and Hz, kHz, MHz or GHz, such as \"150 MHz\""},
    {" *dBm'", "a number and dBm, such as \"-30 dBm\""},
    {NOT_NEGATIVE " *dB'", "a number that is not negative and dB, such as \"20 dB\""},
    {" *dB'", "a number and dB, such as \"32 dB\""},
    {" *m?V'", "a number that is not negative and V or mV, such as \"3.6 V\""},
    {" *[mu]?A'", "a number that is not negative and A, mA or uA, such as \"120 mA\""},
    {" *m?s'", "a number and s or ms, such as \"10 ms\""},
    {NOT_NEGATIVE "'", "a bare number that is not negative, such as \"30\""},
    {"[0-9]{1,10}'", "a whole number, such as \"401\""},
    {"[0-9]{4}-[0-9]{2}-[0-9]{2}'", "a date as year, month and day, such as \"2026-11-20\""},
    {"[a-z]+:.*'", "a port, such as \"tcp:192.0.2.7:5025\""},
    {"{1,32}'", "up to 32 letters, digits and @ ( ) : , . _ -, such as \"1\""},
    {"No matching global declaration",
     "<bench xmlns=\"urn:gainsieve:bench:1\" ...> around everything"},
    {NULL, NULL},
};

/* A value that must lie within bounds. */
struct field {
    const char *attribute;
    enum unit unit;
    double least, most;
    double *out; /* holds what stands when the attribute is absent */
};

static bool read_fields(const struct xml *xml, const struct xml_node *node,
                        const struct field *fields, size_t n, struct error *e)
{
    char least[VALUE_TEXT], most[VALUE_TEXT];

    for (size_t i = 0; i < n; i++) {
        const struct field *f = &fields[i];

        if (!xml_value(xml, node, f->attribute, f->unit, f->out, e)) return false;
        if (!xml_has(node, f->attribute) || (*f->out >= f->least && *f->out <= f->most)) continue;
        return xml_fault(xml, node, e, "%s must be from %s to %s", f->attribute,
                         value_words(f->least, f->unit, least),
                         value_words(f->most, f->unit, most));
    }
    return true;
}

/* A whole number within bounds; `*out` unchanged when the attribute is absent. */
static bool read_whole(const struct xml *xml, const struct xml_node *node, const char *attribute,
                       unsigned long least, unsigned long most, unsigned long *out, struct error *e)
{
    char *word = NULL;
    bool ok = true;

    if (!xml_attribute(node, attribute, &word, e)) return false;
    if (word && (!number_parse_whole(word, most, out) || *out < least))
        ok = xml_fault(xml, node, e, "%s must be a whole number from %lu to %lu", attribute, least,
                       most);
    memory_free(word);
    return ok;
}

#define READ_FIELDS(xml, node, fields, e) \
    read_fields(xml, node, fields, sizeof(fields) / sizeof *(fields), e)

static bool read_sweep(struct bench_sweep *out, const struct xml *xml, const struct xml_node *node,
                       struct error *e)
{
    const struct field fields[] = {
        {"from", UNIT_HZ, 1, 1e12, &out->start_hz},
        {"to", UNIT_HZ, 1, 1e12, &out->stop_hz},
        {"if-bandwidth", UNIT_HZ, 0.1, 1e9, &out->ifbw_hz},
        {"power", UNIT_DBM, -150, 50, &out->power_dbm},
    };
    unsigned long setup = 0;

    out->averages = 1;
    out->setup = NAN;
    if (!READ_FIELDS(xml, node, fields, e)) return false;
    if (!read_whole(xml, node, "points", 2, CEILING_SWEEP_POINTS, &out->points, e)) return false;
    if (!read_whole(xml, node, "averages", 1, 10000, &out->averages, e)) return false;
    if (!read_whole(xml, node, "setup", 0, 9999, &setup, e)) return false;
    if (xml_has(node, "setup")) out->setup = (double)setup;
    if (out->start_hz < out->stop_hz) return true;
    return xml_fault(xml, node, e, "from must be below to");
}

static bool read_levels(struct bench_levels *out, const struct xml *xml,
                        const struct xml_node *node, struct error *e)
{
    const struct field fields[] = {
        {"pad", UNIT_DB, 0, 120, &out->pad_db},
        {"pad-rating", UNIT_DBM, -50, 90, &out->pad_rating_dbm},
        {"saturated-output", UNIT_DBM, -50, 90, &out->saturated_dbm},
        {"highest-gain", UNIT_DB, -120, 120, &out->highest_gain_db},
        {"receiver-damage", UNIT_DBM, -50, 90, &out->receiver_damage_dbm},
        {"receiver-linear", UNIT_DBM, -100, 90, &out->receiver_linear_dbm},
        {"reserve", UNIT_DB, 0, 40, &out->reserve_db},
    };

    out->pad_rating_dbm = out->highest_gain_db = NAN;
    out->receiver_damage_dbm = out->receiver_linear_dbm = NAN;
    out->reserve_db = 6;
    if (!READ_FIELDS(xml, node, fields, e)) return false;
    if (out->pad_db > 0 && isnan(out->pad_rating_dbm))
        return xml_fault(xml, node, e,
                         "a pad needs pad-rating, the power that its first attenuator bears");
    if (out->receiver_linear_dbm > out->receiver_damage_dbm)
        return xml_fault(xml, node, e,
                         "receiver-linear, up to which the receiver measures rightly, is above "
                         "receiver-damage, which destroys it");
    return true;
}

static bool check_bias(const struct bench_bias *bias, const struct xml *xml,
                       const struct xml_node *node, struct error *e)
{
    if (bias->voltage_trip_v <= bias->most_v)
        return xml_fault(xml, node, e,
                         "voltage-trip must be above most, or the supply trips in the test");
    if (bias->off_below_v >= bias->most_v)
        return xml_fault(xml, node, e,
                         "off-below must be below most, or a powered board counts as off");
    if (bias->most_v > MOST_RAMP_STEPS * bias->ramp_step_v)
        return xml_fault(xml, node, e, "ramp-step makes more than %d steps up to most: enlarge it",
                         MOST_RAMP_STEPS);
    if (ceil(bias->most_v / bias->ramp_step_v) * bias->ramp_interval_s + bias->settling_s >=
        bias->longest_s)
        return xml_fault(xml, node, e,
                         "the ramp and settling alone take longest, which is to hold the whole "
                         "test: shorten ramp-interval or settling");
    return true;
}

static bool read_bias(struct bench_bias *out, const struct xml *xml, const struct xml_node *node,
                      struct error *e)
{
    double limit_ma = NAN;
    const struct field fields[] = {
        {"current-limit", UNIT_MA, 0.1, 1e5, &limit_ma},
        {"voltage-trip", UNIT_V, 0.01, 66, &out->voltage_trip_v},
        {"most", UNIT_V, 0.01, 60, &out->most_v},
        {"ramp-step", UNIT_V, 0.001, 60, &out->ramp_step_v},
        {"ramp-interval", UNIT_S, 0, 10, &out->ramp_interval_s},
        {"settling", UNIT_S, 0, 600, &out->settling_s},
        {"tolerance", UNIT_V, 0.001, 1, &out->tolerance_v},
        {"off-below", UNIT_V, 0.01, 5, &out->off_below_v},
        {"longest", UNIT_S, 1, 3600, &out->longest_s},
    };

    out->voltage_trip_v = NAN;
    out->ramp_interval_s = 0.05;
    out->settling_s = 0.1;
    out->tolerance_v = 0.05;
    out->off_below_v = 0.5;
    out->longest_s = 300;
    if (!READ_FIELDS(xml, node, fields, e)) return false;
    out->current_limit_a = limit_ma / 1000;
    if (!xml_has(node, "ramp-step")) out->ramp_step_v = out->most_v / USUAL_RAMP_STEPS;
    return check_bias(out, xml, node, e);
}

/* Whether the calendar has the day; the schema has seen to the digits. */
static bool is_day(const char *date)
{
    static const unsigned long days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    char year_words[5], month_words[3];
    unsigned long year, month, day, most;

    (void)snprintf(year_words, sizeof year_words, "%.4s", date);
    (void)snprintf(month_words, sizeof month_words, "%.2s", date + 5);
    if (!number_parse_whole(year_words, 9999, &year)) return false;
    if (!number_parse_whole(month_words, 12, &month) || month < 1) return false;
    most = days[month - 1];
    if (month == 2 && year % 4 == 0 && (year % 100 != 0 || year % 400 == 0)) most = 29;
    return number_parse_whole(date + 8, most, &day) && day >= 1;
}

static bool read_correction(struct bench_file *out, const struct xml *xml,
                            const struct xml_node *node, struct error *e)
{
    struct bench_correction *c = &out->correction;
    const struct field fields[] = {{"valid-days", UNIT_ONE, 1, 3660, &c->valid_days}};
    const bool is_folder = bench_port_is(&out->analyser, "folder");
    char *required = NULL;

    c->required = !is_folder;
    c->valid_days = NAN;
    if (!node) return true;
    if (!xml_attribute(node, "required", &required, e)) return false;
    if (required) c->required = required[0] == 'y';
    memory_free(required);
    if (c->required && is_folder)
        return xml_fault(xml, node, e,
                         "a folder cannot be asked for its correction: write required=\"no\"");
    if (!xml_attribute(node, "done", &c->done, e)) return false;
    if (c->done && !is_day(c->done))
        return xml_fault(xml, node, e, "done=\"%s\" is no day of the calendar", c->done);
    if (!READ_FIELDS(xml, node, fields, e)) return false;
    if (!isnan(c->valid_days) && !c->done)
        return xml_fault(xml, node, e, "valid-days needs done, the day that they count from");
    return true;
}

static bool read_reference(struct bench_file *out, const struct xml *xml,
                           const struct xml_node *node, struct error *e)
{
    struct bench_reference *r = &out->reference;
    const struct field fields[] = {
        {"gain-tolerance", UNIT_DB, 0.001, 10, &r->gain_tolerance_db},
        {"reflection-tolerance", UNIT_ONE, 0.0001, 1, &r->reflection_tolerance},
        {"every-hours", UNIT_ONE, 0.1, 10000, &r->every_hours},
    };

    r->every_hours = NAN;
    if (!node) return true;
    if (!bench_serial_read(&r->serial, xml, node, e)) return false;
    if (!bench_path_read(&r->sweeps, out->path, node, "sweeps", e)) return false;
    if (!read_whole(xml, node, "every-units", 0, 100000, &r->every_units, e)) return false;
    return READ_FIELDS(xml, node, fields, e);
}

static bool read_bench(struct bench_file *out, const struct xml *xml, struct error *e)
{
    const struct xml_node *root = xml_root(xml), *node;

    (void)snprintf(out->sha256, sizeof out->sha256, "%s", xml_sha256(xml));
    out->most_attempts = 3;
    out->streak = 3;
    if (!xml_attribute(root, "label", &out->label, e)) return false;
    node = xml_child(root, "note");
    if (node && !xml_content(node, &out->note, e)) return false;
    if (!bench_ports_read(out, xml, e)) return false;
    if (!read_sweep(&out->sweep, xml, xml_child(root, "sweep"), e)) return false;
    if (!read_levels(&out->levels, xml, xml_child(root, "levels"), e)) return false;
    if (!read_bias(&out->bias, xml, xml_child(root, "bias"), e)) return false;
    if (!read_correction(out, xml, xml_child(root, "correction"), e)) return false;
    if (!read_reference(out, xml, xml_child(root, "reference-unit"), e)) return false;
    node = xml_child(root, "attempts");
    if (node && !read_whole(xml, node, "most", 1, CEILING_ATTEMPTS, &out->most_attempts, e))
        return false;
    node = xml_child(root, "streak");
    return !node || read_whole(xml, node, "stop-after", 0, 1000, &out->streak, e);
}

bool bench_file_read(struct bench_file *out, const char *path, struct error *e)
{
    struct bench_file made = {0};
    struct xml *xml = NULL;
    bool ok = false;

    if (!xml_load(&xml, path, &bench_xsd, hints, e)) goto done;
    made.path = memory_copy_text(path, e);
    if (!made.path) goto done;
    if (!read_bench(&made, xml, e)) goto done;
    *out = made;
    made = (struct bench_file){0};
    ok = true;
done:
    bench_file_clear(&made);
    xml_free(xml);
    return ok;
}
