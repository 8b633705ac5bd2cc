#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "drivers/base/xml.h"
#include "drivers/profile.h"
#include "drivers/profile_check.h"

extern const struct embedded profile_xsd;

/* The head of the patterns in profile.xsd that take no minus sign. */
#define NOT_NEGATIVE "'\\+?([0-9]+(\\.[0-9]*)?|\\.[0-9]+)([eE][+\\-]?[0-9]+)?"

#define NAMESPACE "{urn:gainsieve:profile:1}"

/* What to write where the schema refuses something; see limits_read.c. */
static const struct xml_hint hints[] = {
    {" *m?s'", "a number and s or ms, such as \"3 s\""},
    {" *([kMG]?Hz)'", "a number and Hz, kHz, MHz or GHz, such as \"100 kHz\""},
    {" *dBm'", "a number and dBm, such as \"-50 dBm\""},
    {" *m?V'", "a number that is not negative and V or mV, such as \"30 V\""},
    {" *[mu]?A'", "a number that is not negative and A, mA or uA, such as \"3 A\""},
    {"waiting-time'", "a number and s or ms, such as \"3 s\", or \"{sweep_timeout_ms}\""},
    {NOT_NEGATIVE "'", "a bare number that is not negative, such as \"0.05\""},
    {"[0-9]{1,10}'", "a whole number, such as \"8\""},
    {"[1-9][0-9]{1,6}'", "a line speed in bits per second, such as \"115200\""},
    {"[!-~]+( [!-~]+)*'", "printable ASCII on one line with single blanks; what ends a message is "
                          "the link's terminator"},
    {"'" NAMESPACE "step-names'", "all actions of a step into one <step>"},
    {"'" NAMESPACE "parameter-names'", "one text for each parameter"},
    {"No matching global declaration",
     "<profile xmlns=\"urn:gainsieve:profile:1\" ...> around everything"},
    {NULL, NULL},
};

static const char *const kinds[] = {"analyser", "supply", NULL};
static const char *const no_yes[] = {"no", "yes", NULL};
static const char *const terminators[] = {"LF", "CR", "CRLF", NULL};
static const char *const terminator_bytes[] = {"\n", "\r", "\r\n"};
static const char *const answer_terminators[] = {"any", "LF", "CR", "CRLF", NULL};
static const char *const parities[] = {"none", "even", "odd", NULL};
static const char *const flows[] = {"none", "rtscts", "xonxoff", NULL};
static const char *const encodings[] = {"ascii", "real32", "real64", NULL};
static const char *const orders[] = {"", "big", "little", NULL};
static const char *const separators[] = {"comma", "semicolon", "blank", "tab", NULL};
static const char *const layouts[] = {"interleaved", "split", "real-only", "imaginary-only", NULL};
static const char *const action_names[] = {"send", "ask", "poll", "pause", NULL};
static const char *const answers[] = {"", "text", "number", "error", "axis", "trace", NULL};

static bool find(const char *word, const char *const *list, int *out)
{
    for (int i = 0; list[i]; i++) {
        if (strcmp(word, list[i]) != 0) continue;
        *out = i;
        return true;
    }
    return false;
}

/* The place of an attribute's word in a list that ends with NULL; `*out` unchanged when the
 * attribute is absent. */
static bool read_choice(const struct xml *xml, const struct xml_node *node, const char *attribute,
                        const char *const *list, int *out, struct error *e)
{
    char *word = NULL;
    bool ok = true;

    if (!xml_attribute(node, attribute, &word, e)) return false;
    if (word && !find(word, list, out))
        ok = xml_fault(xml, node, e, "%s=\"%s\" is not known", attribute, word);
    memory_free(word);
    return ok;
}

/* A whole number; `*out` unchanged when the attribute is absent. */
static bool read_whole(const struct xml *xml, const struct xml_node *node, const char *attribute,
                       unsigned long largest, unsigned long *out, struct error *e)
{
    char *word = NULL;
    bool ok = true;

    if (!xml_attribute(node, attribute, &word, e)) return false;
    if (word && !number_parse_whole(word, largest, out))
        ok = xml_fault(xml, node, e, "%s=\"%s\" is larger than %lu", attribute, word, largest);
    memory_free(word);
    return ok;
}

/* A time; with `waits` one that must pass, and must be above 0. */
static bool read_time(const struct xml *xml, const struct xml_node *node, const char *attribute,
                      bool waits, double *out, struct error *e)
{
    if (!xml_value(xml, node, attribute, UNIT_S, out, e)) return false;
    if (!xml_has(node, attribute)) return true;
    if (waits && !(*out > 0)) return xml_fault(xml, node, e, "%s must be above 0 s", attribute);
    if (*out > CEILING_PROFILE_WAIT_S)
        return xml_fault(xml, node, e,
                         "%s is longer than %d s: nobody waits that long for an "
                         "instrument",
                         attribute, (int)CEILING_PROFILE_WAIT_S);
    return true;
}

/* The same, or "{sweep_timeout_ms}", which is NaN. */
static bool read_timeout(const struct xml *xml, const struct xml_node *node, double *out,
                         struct error *e)
{
    char *word = NULL;
    bool of_sweep;

    if (!xml_attribute(node, "timeout", &word, e)) return false;
    of_sweep = word && word[0] == '{';
    memory_free(word);
    if (!of_sweep) return read_time(xml, node, "timeout", true, out, e);
    *out = NAN;
    return true;
}

static bool read_serial(struct link_line *out, const struct xml *xml, const struct xml_node *node,
                        struct error *e)
{
    unsigned long data_bits = 0, stop_bits = 0;
    int parity = 0, flow = 0;

    if (!read_whole(xml, node, "baud", 9999999, &out->baud, e)) return false;
    if (!read_whole(xml, node, "data-bits", 8, &data_bits, e)) return false;
    if (!read_whole(xml, node, "stop-bits", 2, &stop_bits, e)) return false;
    if (!read_choice(xml, node, "parity", parities, &parity, e)) return false;
    if (!read_choice(xml, node, "flow", flows, &flow, e)) return false;
    out->data_bits = (int)data_bits;
    out->stop_bits = (int)stop_bits;
    if (xml_has(node, "parity")) out->parity = parities[parity][0];
    out->rts_cts = flow == 1;
    if (flow != 2) return true;
    return xml_fault(xml, node, e,
                     "XON/XOFF eats bytes of answers and lets one stray byte stop everything: "
                     "switch it off at the instrument and write flow=\"none\" or \"rtscts\"");
}

static bool read_link(struct profile *out, const struct xml *xml, struct error *e)
{
    const struct xml_node *node = xml_child(xml_root(xml), "link");
    const struct xml_node *serial = xml_child(node, "serial");
    int terminator = 0, answer = TERMINATOR_ANY, echo = 0;

    if (!read_choice(xml, node, "terminator", terminators, &terminator, e)) return false;
    if (!read_choice(xml, node, "answer-terminator", answer_terminators, &answer, e)) return false;
    if (!read_choice(xml, node, "echo", no_yes, &echo, e)) return false;
    out->terminator = memory_copy_text(terminator_bytes[terminator], e);
    if (!out->terminator) return false;
    out->answer_terminator = (enum reply_terminator)answer;
    out->echo = echo;
    if (!read_time(xml, node, "timeout", true, &out->timeout_s, e)) return false;
    if (!read_time(xml, node, "gap", false, &out->gap_s, e)) return false;
    if (!read_time(xml, node, "settle", false, &out->settle_s, e)) return false;
    return !serial || read_serial(&out->line, xml, serial, e);
}

/* One attribute of <rating>. */
struct rating {
    const char *attribute;
    enum profile_kind kind;
    enum unit unit;
    double *out;
};

static bool check_ratings(const struct profile *profile, const struct xml *xml,
                          const struct xml_node *node, struct error *e)
{
    if (profile->min_hz > profile->max_hz)
        return xml_fault(xml, node, e, "min-frequency is above max-frequency");
    if (profile->min_dbm > profile->max_dbm)
        return xml_fault(xml, node, e, "min-power is above max-power");
    if (profile->linear_dbm > profile->damage_dbm)
        return xml_fault(xml, node, e,
                         "linear-power, up to which the receiver measures rightly, is above "
                         "damage-power, which destroys it");
    if (profile->max_points < 2) return xml_fault(xml, node, e, "max-points is below 2");
    return true;
}

static bool read_ratings(struct profile *out, const struct xml *xml, struct error *e)
{
    const struct xml_node *node = xml_child(xml_root(xml), "rating");
    const struct rating ratings[] = {
        {"min-frequency", PROFILE_ANALYSER, UNIT_HZ, &out->min_hz},
        {"max-frequency", PROFILE_ANALYSER, UNIT_HZ, &out->max_hz},
        {"max-points", PROFILE_ANALYSER, UNIT_ONE, &out->max_points},
        {"min-power", PROFILE_ANALYSER, UNIT_DBM, &out->min_dbm},
        {"max-power", PROFILE_ANALYSER, UNIT_DBM, &out->max_dbm},
        {"damage-power", PROFILE_ANALYSER, UNIT_DBM, &out->damage_dbm},
        {"linear-power", PROFILE_ANALYSER, UNIT_DBM, &out->linear_dbm},
        {"max-voltage", PROFILE_SUPPLY, UNIT_V, &out->max_v},
        {"max-current", PROFILE_SUPPLY, UNIT_MA, &out->max_a},
    };

    for (size_t i = 0; i < sizeof ratings / sizeof *ratings; i++) {
        const struct rating *rating = &ratings[i];

        *rating->out = NAN;
        if (!node || !xml_has(node, rating->attribute)) continue;
        if (rating->kind != out->kind)
            return xml_fault(xml, node, e, "%s is no rating of %s: remove it", rating->attribute,
                             out->kind == PROFILE_SUPPLY ? "a supply" : "an analyser");
        if (!xml_value(xml, node, rating->attribute, rating->unit, rating->out, e)) return false;
    }
    out->max_a /= 1000; /* from mA */
    return !node || check_ratings(out, xml, node, e);
}

static size_t count_children(const struct xml_node *node, const char *name)
{
    size_t n = 0;

    for (node = xml_child(node, name); node; node = xml_next(node, name))
        n++;
    return n;
}

static bool read_parameters(struct profile *out, const struct xml *xml, struct error *e)
{
    const struct xml_node *root = xml_root(xml), *node;

    out->parameters = memory_make(count_children(root, "parameter"), sizeof *out->parameters, e);
    if (!out->parameters) return false;
    for (node = xml_child(root, "parameter"); node; node = xml_next(node, "parameter")) {
        struct profile_parameter *made = &out->parameters[out->n_parameters++];

        if (!xml_attribute(node, "name", &made->name, e)) return false;
        if (!xml_attribute(node, "text", &made->text, e)) return false;
    }
    return true;
}

static bool read_format(struct profile_action *out, const struct xml *xml,
                        const struct xml_node *node, struct error *e)
{
    static const char separator_bytes[] = {',', ';', ' ', '\t'};
    int encoding = ENCODING_ASCII, order = ORDER_NONE, separator = 0, layout = LAYOUT_INTERLEAVED;
    unsigned long skip = 0;

    if (!read_choice(xml, node, "encoding", encodings, &encoding, e)) return false;
    if (!read_choice(xml, node, "byte-order", orders, &order, e)) return false;
    if (!read_choice(xml, node, "separator", separators, &separator, e)) return false;
    if (!read_choice(xml, node, "layout", layouts, &layout, e)) return false;
    if (!read_whole(xml, node, "skip", CEILING_PROFILE_SKIP, &skip, e)) return false;
    out->format.encoding = (enum reply_encoding)encoding;
    out->format.order = (enum reply_order)order;
    out->format.separator = xml_has(node, "separator") ? separator_bytes[separator] : '\0';
    out->format.skip = skip;
    out->layout = (enum profile_layout)layout;
    return true;
}

static bool read_answer(struct profile_action *out, const struct xml *xml,
                        const struct xml_node *node, struct error *e)
{
    int answer = ANSWER_IGNORED;

    (void)find(xml_name(node), answers, &answer);
    out->answer = (enum profile_answer)answer;
    if (!xml_attribute(node, "match", &out->match, e)) return false;
    if (!xml_attribute(node, "equals", &out->equals, e)) return false;
    if (!xml_value(xml, node, "within", UNIT_ONE, &out->within, e)) return false;
    if (!xml_value(xml, node, "scale", UNIT_ONE, &out->scale, e)) return false;
    if (!(out->scale > 0)) return xml_fault(xml, node, e, "scale must be above 0");
    if (xml_has(node, "within") && !out->equals)
        return xml_fault(xml, node, e, "within needs equals, the number to be near to");
    return read_format(out, xml, node, e);
}

static bool read_action(struct profile_action *out, const struct xml *xml,
                        const struct xml_node *node, struct error *e)
{
    int kind = ACTION_SEND;

    (void)find(xml_name(node), action_names, &kind);
    out->kind = (enum profile_action_kind)kind;
    out->line = xml_line(node);
    out->scale = 1;
    if (!xml_attribute(node, "text", &out->text, e)) return false;
    switch (out->kind) {
    case ACTION_SEND: break;
    case ACTION_ASK:
        if (!read_timeout(xml, node, &out->timeout_s, e)) return false;
        return read_answer(out, xml, xml_child(node, NULL), e);
    case ACTION_POLL:
        if (!read_whole(xml, node, "mask", 0xFFFFFFFF, &out->mask, e)) return false;
        if (!read_whole(xml, node, "equals", 0xFFFFFFFF, &out->equals_masked, e)) return false;
        if (!read_time(xml, node, "every", true, &out->every_s, e)) return false;
        return read_timeout(xml, node, &out->timeout_s, e);
    case ACTION_PAUSE: return read_time(xml, node, "time", true, &out->pause_s, e);
    }
    return true;
}

static bool read_step(struct profile *out, const struct xml *xml, const struct xml_node *node,
                      struct error *e)
{
    const char *names[PROFILE_STEPS + 1] = {0};
    struct profile_actions *step;
    int which = STEP_OPEN;

    for (int s = 0; s < PROFILE_STEPS; s++)
        names[s] = profile_step_name((enum profile_step)s);
    if (!read_choice(xml, node, "name", names, &which, e)) return false;
    step = &out->steps[which];
    step->is_there = true;
    step->line = xml_line(node);
    step->actions = memory_make(count_children(node, NULL), sizeof *step->actions, e);
    if (!step->actions) return false;
    for (const struct xml_node *child = xml_child(node, NULL); child; child = xml_next(child, NULL))
        if (!read_action(&step->actions[step->n++], xml, child, e)) return false;
    return true;
}

static bool read_profile(struct profile *out, const struct xml *xml, struct error *e)
{
    const struct xml_node *root = xml_root(xml), *node;
    int kind = PROFILE_ANALYSER;

    (void)snprintf(out->sha256, sizeof out->sha256, "%s", xml_sha256(xml));
    if (!read_choice(xml, root, "kind", kinds, &kind, e)) return false;
    out->kind = (enum profile_kind)kind;
    if (!xml_attribute(root, "label", &out->label, e)) return false;
    if (!read_link(out, xml, e) || !read_ratings(out, xml, e)) return false;
    if (!read_parameters(out, xml, e)) return false;
    for (node = xml_child(root, "step"); node; node = xml_next(node, "step"))
        if (!read_step(out, xml, node, e)) return false;
    return profile_check(out, xml_line(root), e);
}

bool profile_read(struct profile *out, const char *path, struct error *e)
{
    struct profile made = {0};
    struct xml *xml = NULL;
    bool ok = false;

    if (!xml_load(&xml, path, &profile_xsd, hints, e)) goto done;
    made.path = memory_copy_text(path, e);
    if (!made.path) goto done;
    if (!read_profile(&made, xml, e)) goto done;
    *out = made;
    made = (struct profile){0};
    ok = true;
done:
    profile_clear(&made);
    xml_free(xml);
    return ok;
}
