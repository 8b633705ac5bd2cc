#include "drivers/archive_name.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/number.h"
#include "drivers/base/value.h"

#define LONGEST_LAYOUT 512
/* Enough for any name a person gives; many {any} in one name could take forever. */
#define MOST_STEPS 20000
#define MOST_ANY 4

static struct name_part part(const char *from, const char *to)
{
    return (struct name_part){from, (size_t)(to - from)};
}

/* Volts as written; `has_unit` tells whether a V or mV stood behind the number. */
static bool read_volts(struct name_part text, double *volts, bool *has_unit)
{
    char copy[VALUE_TEXT];

    if (text.length == 0 || text.length >= sizeof copy) return false;
    memcpy(copy, text.at, text.length);
    copy[text.length] = '\0';
    *has_unit = value_parse(copy, UNIT_V, volts);
    return *has_unit || number_parse(copy, volts);
}

/* The step whose id the text is; n when it is none. */
static size_t find_id(const struct bias_names *biases, struct name_part text)
{
    size_t i = 0;

    while (i < biases->n && (strlen(biases->names[i].id) != text.length ||
                             memcmp(biases->names[i].id, text.at, text.length) != 0))
        i++;
    return i;
}

/* The step nearest to the voltage; n when none is within the tolerance. */
static size_t find_volts(const struct bias_names *biases, double volts)
{
    double best_v = biases->tolerance_v + SAME_VOLTAGE_V;
    size_t found = biases->n;

    for (size_t i = 0; i < biases->n; i++) {
        double off_v = fabs(volts - biases->names[i].at_v);

        if (!(off_v <= best_v)) continue;
        best_v = off_v;
        found = i;
    }
    return found;
}

bool archive_bias_find(const struct bias_names *biases, struct name_part text, size_t *step,
                       double *bias_v)
{
    size_t found = find_id(biases, text);
    double volts = 0;
    bool has_unit;

    if (found < biases->n) {
        volts = biases->names[found].at_v;
    } else {
        if (!read_volts(text, &volts, &has_unit)) return false;
        found = find_volts(biases, volts);
        if (found == biases->n) return false;
    }
    *step = found;
    *bias_v = volts;
    return true;
}

/* File name without folders and without its ending. */
static struct name_part stem_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    const char *name = slash ? slash + 1 : path;
    const char *dot = strrchr(name, '.');

    return part(name, dot && dot > name ? dot : name + strlen(name));
}

/* The folder that the file lies in, by its own name; empty when the path does not say. */
static struct name_part parent_of(const char *path)
{
    const char *end = strrchr(path, '/'), *begin;

    if (!end) return part(path, path);
    while (end > path && end[-1] == '/')
        end--;
    for (begin = end; begin > path && begin[-1] != '/'; begin--)
        continue;
    return part(begin, end);
}

/* Whether a part of a usual name is a bias: a step's id; volts with a unit or a decimal point,
 * though they may be none of the limits' steps; or a whole number that is a step's voltage. With
 * one step, when names need no bias, a whole number is a serial number. */
static bool names_bias(const struct bias_names *biases, struct name_part text)
{
    double volts = 0;
    bool has_unit;

    if (find_id(biases, text) < biases->n) return true;
    if (!read_volts(text, &volts, &has_unit)) return false;
    if (has_unit || memchr(text.at, '.', text.length)) return true;
    return biases->n > 1 && find_volts(biases, volts) < biases->n;
}

static bool is_whole(struct name_part text)
{
    for (size_t i = 0; i < text.length; i++)
        if (text.at[i] < '0' || text.at[i] > '9') return false;
    return text.length > 0;
}

void archive_name_by_default(const char *path, const struct bias_names *biases,
                             struct archive_name *out)
{
    struct name_part stem = stem_of(path), parent = parent_of(path);
    const char *end = stem.at + stem.length, *last_score = NULL;

    *out = (struct archive_name){.attempt = 1};
    if (parent.length > 0 && names_bias(biases, stem)) {
        out->serial = parent;
        out->bias = stem;
        return;
    }
    /* From the left, so that of the ids "mid" and "upper_mid" the longer one is found. */
    for (const char *p = stem.at + 1; p < end; p++) {
        if (*p != '_') continue;
        last_score = p;
        if (!names_bias(biases, part(p + 1, end))) continue;
        out->serial = part(stem.at, p);
        out->bias = part(p + 1, end);
        return;
    }
    /* A word behind the last '_' may be a bias step of another limits file: taking its sweep for
     * the only step of this one would judge the wrong thing. */
    if (biases->n == 1 && (!last_score || is_whole(part(last_score + 1, end)))) {
        out->serial = stem;
        out->bias = (struct name_part){biases->names[0].id, strlen(biases->names[0].id)};
    } else {
        out->serial = last_score ? part(stem.at, last_score) : stem;
        if (last_score) out->bias = part(last_score + 1, end);
    }
}

static const char *const fields[] = {"{serial}", "{bias}", "{attempt}", "{any}"};
enum field { FIELD_SERIAL = 0, FIELD_BIAS, FIELD_ATTEMPT, FIELD_ANY, FIELDS };

/* The field that begins at `p`, FIELDS for none. */
static enum field field_at(const char *p)
{
    enum field f = FIELD_SERIAL;

    while (f < FIELDS && strncmp(p, fields[f], strlen(fields[f])) != 0)
        f++;
    return f;
}

bool archive_layout_check(const char *layout, const struct bias_names *biases, struct error *e)
{
    size_t seen[FIELDS] = {0};

    if (strlen(layout) > LONGEST_LAYOUT)
        return error_set(e, ERROR_USAGE, "the layout is longer than %d characters", LONGEST_LAYOUT);
    for (const char *p = layout; *p; p++) {
        enum field f = field_at(p);

        if (f == FIELDS && (*p == '{' || *p == '}'))
            return error_set(e, ERROR_USAGE,
                             "the layout \"%s\" holds something in braces that is not {serial}, "
                             "{bias}, {attempt} or {any}",
                             layout);
        if (f == FIELDS) continue;
        if (++seen[f] > 1 && f != FIELD_ANY)
            return error_set(e, ERROR_USAGE, "the layout \"%s\" holds %s twice", layout, fields[f]);
        p += strlen(fields[f]) - 1;
        if (field_at(p + 1) != FIELDS)
            return error_set(e, ERROR_USAGE,
                             "the layout \"%s\" holds two fields with nothing between: where the "
                             "one ends cannot be told",
                             layout);
    }
    if (seen[FIELD_ANY] > MOST_ANY)
        return error_set(e, ERROR_USAGE, "the layout \"%s\" holds {any} more than %d times", layout,
                         MOST_ANY);
    if (!seen[FIELD_SERIAL])
        return error_set(e, ERROR_USAGE, "the layout \"%s\" needs {serial}", layout);
    if (!seen[FIELD_BIAS] && biases->n > 1)
        return error_set(e, ERROR_USAGE,
                         "the layout \"%s\" needs {bias}, because the limits have %zu bias steps",
                         layout, biases->n);
    return true;
}

/* A field and what it takes for now. When the match fails behind it, it takes one character less.
 */
struct choice {
    enum field field;
    const char *begin, *end; /* of what it takes */
    const char *behind;      /* the pattern behind the field */
};

static bool choice_is_allowed(const struct choice *choice)
{
    if (choice->field == FIELD_ANY) return true;
    if (choice->begin == choice->end) return false;
    if (choice->field != FIELD_ATTEMPT) return true;
    return strspn(choice->begin, "0123456789") >= (size_t)(choice->end - choice->begin);
}

/* Shortens the newest choice that can be, and forgets those behind it; false when none can. */
static bool shorten(struct choice *choices, size_t *n)
{
    for (; *n > 0; (*n)--) {
        struct choice *newest = &choices[*n - 1];

        while (newest->end > newest->begin) {
            newest->end--;
            if (choice_is_allowed(newest)) return true;
        }
    }
    return false;
}

/* How good a whole match is: the longer the bias that is a step the better, so that of "mid" and
 * "upper_mid" the right one is found; any match at all when the bias is no step; the first when the
 * layout holds no bias. */
static size_t weigh(const struct choice *choices, size_t n, const struct bias_names *biases)
{
    for (size_t i = 0; i < n; i++) {
        struct name_part bias = part(choices[i].begin, choices[i].end);
        size_t step;
        double bias_v;

        if (choices[i].field != FIELD_BIAS) continue;
        return archive_bias_find(biases, bias, &step, &bias_v) ? 1 + bias.length : 1;
    }
    return SIZE_MAX;
}

/* Matches the whole text: each field takes as much of its folder as leaves the rest a match, the
 * first field first. */
static bool match(const char *text, const char *pattern, const struct bias_names *biases,
                  struct name_part found[FIELDS])
{
    struct choice choices[LONGEST_LAYOUT / 5 + 1];
    size_t n = 0, best = 0;

    for (size_t steps = 0; steps < MOST_STEPS; steps++) {
        enum field f;

        for (; (f = field_at(pattern)) == FIELDS && *pattern && *pattern == *text; pattern++)
            text++;
        if (!*pattern && !*text) {
            size_t weight = weigh(choices, n, biases);

            for (size_t i = 0; weight > best && i < n; i++)
                found[choices[i].field] = part(choices[i].begin, choices[i].end);
            best = weight > best ? weight : best;
            if (best == SIZE_MAX) return true;
        }
        /* A new choice begins one too long, and is shortened like an old one. */
        if (f < FIELDS)
            choices[n++] = (struct choice){f, text, text + strcspn(text, "/") + 1,
                                           pattern + strlen(fields[f])};
        if (!shorten(choices, &n)) break;
        text = choices[n - 1].end;
        pattern = choices[n - 1].behind;
    }
    return best > 0;
}

bool archive_name_by_layout(const char *path, const char *layout, const struct bias_names *biases,
                            struct archive_name *out)
{
    struct name_part found[FIELDS] = {{0}};
    const char *text = path + strlen(path);
    size_t slashes = 0;

    for (const char *p = layout; *p; p++)
        slashes += *p == '/';
    /* As many folders from the end as the layout has. */
    for (; text > path && (text[-1] != '/' || slashes > 0); text--)
        if (text[-1] == '/') slashes--;
    if (slashes > 0 || !match(text, layout, biases, found)) return false;
    *out = (struct archive_name){found[FIELD_SERIAL], found[FIELD_BIAS], 1};
    if (found[FIELD_ATTEMPT].at) {
        char digits[16];

        if (found[FIELD_ATTEMPT].length >= sizeof digits) return false;
        (void)snprintf(digits, sizeof digits, "%.*s", (int)found[FIELD_ATTEMPT].length,
                       found[FIELD_ATTEMPT].at);
        return number_parse_whole(digits, CEILING_ATTEMPTS, &out->attempt) && out->attempt > 0;
    }
    return true;
}
