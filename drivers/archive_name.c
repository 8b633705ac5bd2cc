#include "drivers/archive_name.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/number.h"
#include "drivers/base/value.h"

/* 10 mV from 2.40 V is 2.41 V, which binary numbers cannot say exactly. */
#define SAME_VOLTAGE_V 1e-9
#define LONGEST_LAYOUT 512

static struct name_part part(const char *from, const char *to)
{
    return (struct name_part){from, (size_t)(to - from)};
}

/* Volts as written; `explicit_unit` tells whether a V stood behind the number. */
static bool read_volts(struct name_part text, double *volts, bool *explicit_unit)
{
    char copy[VALUE_TEXT];

    if (text.length == 0 || text.length >= sizeof copy) return false;
    memcpy(copy, text.at, text.length);
    copy[text.length] = '\0';
    *explicit_unit = value_parse(copy, UNIT_V, volts);
    return *explicit_unit || number_parse(copy, volts);
}

bool archive_bias_find(const struct bias_names *biases, struct name_part text, size_t *step,
                       double *bias_v)
{
    double volts = 0, best_v = biases->tolerance_v + SAME_VOLTAGE_V;
    bool explicit_unit, found = false;

    for (size_t i = 0; i < biases->n; i++) {
        const char *id = biases->names[i].id;

        if (strlen(id) != text.length || memcmp(id, text.at, text.length) != 0) continue;
        *step = i;
        *bias_v = biases->names[i].at_v;
        return true;
    }
    if (!read_volts(text, &volts, &explicit_unit)) return false;
    for (size_t i = 0; i < biases->n; i++) {
        double off_v = fabs(volts - biases->names[i].at_v);

        if (!(off_v <= best_v)) continue;
        best_v = off_v;
        *step = i;
        *bias_v = volts;
        found = true;
    }
    return found;
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
    for (begin = end; begin > path && begin[-1] != '/'; begin--)
        continue;
    return part(begin, end);
}

void archive_name_by_default(const char *path, const struct bias_names *biases,
                             struct archive_name *out)
{
    struct name_part stem = stem_of(path), parent = parent_of(path);
    const char *end = stem.at + stem.length, *last_score = NULL;
    size_t step;
    double bias_v;

    *out = (struct archive_name){.attempt = 1};
    for (const char *p = end; p > stem.at; p--) {
        double volts;
        bool explicit_unit;

        if (p[-1] != '_' || p - 1 == stem.at) continue;
        if (!last_score) last_score = p - 1;
        /* "2.10V" is a bias in so many words, though it may be none of the limits' steps. */
        if (archive_bias_find(biases, part(p, end), &step, &bias_v) ||
            (read_volts(part(p, end), &volts, &explicit_unit) && explicit_unit)) {
            out->serial = part(stem.at, p - 1);
            out->bias = part(p, end);
            return;
        }
    }
    if (parent.length > 0 && archive_bias_find(biases, stem, &step, &bias_v)) {
        out->serial = parent;
        out->bias = stem;
    } else if (biases->n == 1) {
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
    }
    if (!seen[FIELD_SERIAL])
        return error_set(e, ERROR_USAGE, "the layout \"%s\" needs {serial}", layout);
    if (!seen[FIELD_BIAS] && biases->n > 1)
        return error_set(e, ERROR_USAGE,
                         "the layout \"%s\" needs {bias}, because the limits have %zu bias steps",
                         layout, biases->n);
    return true;
}

/* A point to come back to when the match fails later: the field may end one character earlier. */
struct choice {
    const char *pattern; /* behind the field */
    const char *begin, *end;
    enum field field;
};

static bool field_may_be(enum field field, const char *begin, const char *end)
{
    if (field == FIELD_ANY) return true;
    if (begin == end) return false;
    for (const char *p = begin; field == FIELD_ATTEMPT && p < end; p++)
        if (*p < '0' || *p > '9') return false;
    return true;
}

/* Greedy match with backtracking, without recursion; each field keeps within one folder. */
static bool match(const char *text, const char *pattern, struct name_part found[FIELDS])
{
    struct choice choices[LONGEST_LAYOUT / 5 + 1];
    size_t n = 0, steps = 0;

    for (;;) {
        enum field f = *pattern ? field_at(pattern) : FIELDS;

        if (f < FIELDS) {
            const char *end = text + strcspn(text, "/");

            choices[n++] = (struct choice){pattern + strlen(fields[f]), text, end + 1, f};
        } else if (*pattern && *pattern == *text) {
            pattern++;
            text++;
            continue;
        } else if (!*pattern && !*text) {
            break;
        }
        /* Takes the newest choice that can still be shortened. */
        while (n > 0 && choices[n - 1].end == choices[n - 1].begin)
            n--;
        if (n == 0 || ++steps > 1000000) return false;
        choices[n - 1].end--;
        if (!field_may_be(choices[n - 1].field, choices[n - 1].begin, choices[n - 1].end)) {
            text = "\1"; /* fits nothing: come back for a shorter one */
            pattern = "\2";
            continue;
        }
        text = choices[n - 1].end;
        pattern = choices[n - 1].pattern;
    }
    for (size_t i = 0; i < n; i++)
        found[choices[i].field] = part(choices[i].begin, choices[i].end);
    return true;
}

bool archive_name_by_layout(const char *path, const char *layout, struct archive_name *out)
{
    struct name_part found[FIELDS] = {{0}};
    const char *text = path + strlen(path);
    size_t slashes = 0;

    for (const char *p = layout; *p; p++)
        slashes += *p == '/';
    /* As many folders from the end as the layout has. */
    for (; text > path && (text[-1] != '/' || slashes > 0); text--)
        if (text[-1] == '/') slashes--;
    if (slashes > 0 || !match(text, layout, found)) return false;
    *out = (struct archive_name){found[FIELD_SERIAL], found[FIELD_BIAS], 1};
    if (found[FIELD_ATTEMPT].at) {
        char digits[16];

        (void)snprintf(digits, sizeof digits, "%.*s", (int)found[FIELD_ATTEMPT].length,
                       found[FIELD_ATTEMPT].at);
        return number_parse_whole(digits, CEILING_ATTEMPTS, &out->attempt) && out->attempt > 0;
    }
    return true;
}
