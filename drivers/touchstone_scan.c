#include "drivers/touchstone_scan.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "drivers/base/number.h"

bool scan_fault(struct touchstone_file *f, const char *format, ...)
{
    char words[CEILING_ERROR_TEXT / 2];
    va_list arguments;

    va_start(arguments, format);
    (void)vsnprintf(words, sizeof words, format, arguments);
    va_end(arguments);
    return error_set(f->e, ERROR_INPUT, "%s:%lu: %s", f->path, f->line, words);
}

void scan_next_line(struct touchstone_file *f)
{
    while (f->at < f->end && *f->at != '\n' && *f->at != '\r')
        f->at++;
    if (f->at == f->end) return;
    if (*f->at == '\r' && f->at + 1 < f->end && f->at[1] == '\n') f->at++;
    f->at++;
    f->begin = f->at;
    f->line++;
}

bool scan_skip_words(struct touchstone_file *f)
{
    for (; !scan_line_is_over(f); f->at++)
        if (*f->at < 0x20 || *f->at > 0x7e)
            return scan_fault(f, "a character that is not ASCII stands outside a comment");
    scan_next_line(f);
    return true;
}

bool scan_to_content(struct touchstone_file *f)
{
    while (scan_line_is_over(f)) {
        scan_next_line(f);
        if (f->at == f->end) return !scan_line_is_over(f);
    }
    return true;
}

static bool ends_word(const struct touchstone_file *f, const char *p)
{
    return p == f->end || *p == ' ' || *p == '\t' || *p == '\n' || *p == '\r' || *p == '!';
}

static struct scan_word word_at(const struct touchstone_file *f, const char *p)
{
    const char *begin = p;

    while (!ends_word(f, p))
        p++;
    return (struct scan_word){begin, (size_t)(p - begin)};
}

struct scan_word scan_take_word(struct touchstone_file *f)
{
    struct scan_word word = word_at(f, f->at);

    f->at += word.length;
    return word;
}

bool scan_word_is(struct scan_word word, const char *name)
{
    return strlen(name) == word.length && strncasecmp(word.at, name, word.length) == 0;
}

/* The word as one may print it: at most 24 characters, others than ASCII as '?'. */
static const char *printable(struct scan_word word, char out[32])
{
    size_t n = word.length < 24 ? word.length : 24;

    for (size_t i = 0; i < n; i++)
        out[i] = word.at[i] >= 0x20 && word.at[i] < 0x7f ? word.at[i] : '?';
    (void)snprintf(out + n, 32 - n, "%s", word.length > n ? "..." : "");
    return out;
}

bool scan_number(struct touchstone_file *f, int shift, double *out)
{
    const char *at = f->at;
    char words[32];

    if (number_scan_scaled(&at, f->end, shift, out) && ends_word(f, at)) {
        f->at = at;
        return true;
    }
    return scan_fault(f, "\"%s\" is not a finite decimal number",
                      printable(word_at(f, f->at), words));
}

size_t scan_count_words(struct touchstone_file *f)
{
    const char *kept = f->at;
    size_t n = 0;

    while (!scan_line_is_over(f)) {
        (void)scan_take_word(f);
        n++;
    }
    f->at = kept;
    return n;
}

static bool take_resistances(struct touchstone_file *f)
{
    struct touchstone_options *o = &f->options;
    double resistance = 0;
    char words[32];

    while (!scan_line_is_over(f) && o->n_resistances < 2) {
        const char *at = f->at;

        if (!number_scan(&at, f->end, &resistance)) break;
        if (!scan_number(f, 0, &resistance)) return false;
        if (!(resistance > 0)) return scan_fault(f, "the resistance behind R must be above 0 ohm");
        o->resistance_ohm[o->n_resistances++] = resistance;
    }
    if (o->n_resistances == 0 && scan_line_is_over(f))
        return scan_fault(f, "a resistance is missing behind R");
    if (o->n_resistances == 0)
        return scan_fault(f,
                          "\"%s\" behind R is not a resistance: only a real number of ohms can be "
                          "read",
                          printable(word_at(f, f->at), words));
    if (o->n_resistances == 1) {
        o->resistance_ohm[1] = o->resistance_ohm[0];
        return true;
    }
    if (scan_line_is_over(f)) return true;
    return scan_fault(f,
                      "more than two resistances, or words behind two: only one and two ports are "
                      "read");
}

/* One word of the option line other than R; `seen` guards against a second of its kind. */
static bool take_option(struct touchstone_file *f, struct scan_word word, bool seen[3])
{
    static const struct {
        const char *name;
        int group, value;
    } table[] = {
        {"Hz", 0, 0},        {"kHz", 0, 3},        {"MHz", 0, 6},        {"GHz", 0, 9},
        {"S", 1, NETWORK_S}, {"Y", 1, NETWORK_Y},  {"Z", 1, NETWORK_Z},  {"G", 1, NETWORK_G},
        {"H", 1, NETWORK_H}, {"MA", 2, FORMAT_MA}, {"DB", 2, FORMAT_DB}, {"RI", 2, FORMAT_RI},
    };
    struct touchstone_options *o = &f->options;
    char words[32];

    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        if (!scan_word_is(word, table[i].name)) continue;
        if (seen[table[i].group])
            return scan_fault(f, "\"%s\" on the option line says again what was said before",
                              printable(word, words));
        seen[table[i].group] = true;
        if (table[i].group == 0) o->frequency_shift = table[i].value;
        if (table[i].group == 1) o->kind = (enum network_kind)table[i].value;
        if (table[i].group == 2) o->format = (enum value_format)table[i].value;
        return true;
    }
    return scan_fault(
        f,
        "\"%s\" on the option line is not known: it may hold a frequency unit, S, Y, Z, "
        "G or H, DB, MA or RI, and R with a resistance",
        printable(word, words));
}

bool touchstone_read_options(struct touchstone_file *f)
{
    bool seen[3] = {false};

    f->options = (struct touchstone_options){
        .frequency_shift = 9, .kind = NETWORK_S, .format = FORMAT_MA, .resistance_ohm = {50, 50}};
    while (!scan_line_is_over(f)) {
        struct scan_word word = scan_take_word(f);

        if (!scan_word_is(word, "R")) {
            if (!take_option(f, word, seen)) return false;
        } else if (f->options.n_resistances > 0) {
            return scan_fault(f, "R stands twice on the option line");
        } else {
            (void)scan_line_is_over(f);
            if (!take_resistances(f)) return false;
        }
    }
    return true;
}
