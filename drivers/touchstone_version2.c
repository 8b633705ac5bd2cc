/* Version 2 files: keywords in brackets, then the data. */
#include <string.h>
#include <strings.h>

#include "drivers/base/number.h"
#include "drivers/touchstone_scan.h"

enum keyword {
    KEY_VERSION = 0,
    KEY_PORTS,
    KEY_ORDER,
    KEY_FREQUENCIES,
    KEY_NOISE_FREQUENCIES,
    KEY_REFERENCE,
    KEY_MATRIX,
    KEY_MIXED_MODE,
    KEY_BEGIN_INFORMATION,
    KEY_END_INFORMATION,
    KEY_NETWORK_DATA,
    KEY_NOISE_DATA,
    KEY_END,
    KEYWORDS
};

static const char *const names[KEYWORDS] = {
    [KEY_VERSION] = "[Version]",
    [KEY_PORTS] = "[Number of Ports]",
    [KEY_ORDER] = "[Two-Port Data Order]",
    [KEY_FREQUENCIES] = "[Number of Frequencies]",
    [KEY_NOISE_FREQUENCIES] = "[Number of Noise Frequencies]",
    [KEY_REFERENCE] = "[Reference]",
    [KEY_MATRIX] = "[Matrix Format]",
    [KEY_MIXED_MODE] = "[Mixed-Mode Order]",
    [KEY_BEGIN_INFORMATION] = "[Begin Information]",
    [KEY_END_INFORMATION] = "[End Information]",
    [KEY_NETWORK_DATA] = "[Network Data]",
    [KEY_NOISE_DATA] = "[Noise Data]",
    [KEY_END] = "[End]",
};

struct head {
    bool seen[KEYWORDS];
    unsigned long n_frequencies, n_noise;
};

/* Takes the keyword at hand. */
static bool take_keyword(struct touchstone_file *f, enum keyword *out)
{
    if (!scan_to_content(f)) return scan_fault(f, "the file ends before [End]: it looks cut off");
    if (*f->at != '[') return scan_fault(f, "a keyword in brackets is missing here");
    if (f->at != f->begin) return scan_fault(f, "a keyword must begin in the first column");
    for (enum keyword k = KEY_VERSION; k < KEYWORDS; k++) {
        size_t length = strlen(names[k]);

        if ((size_t)(f->end - f->at) < length || strncasecmp(f->at, names[k], length) != 0)
            continue;
        f->at += length;
        *out = k;
        return true;
    }
    return scan_fault(f, "this keyword is not known in version 2.0 and 2.1");
}

static bool end_line(struct touchstone_file *f, enum keyword k)
{
    if (!scan_line_is_over(f))
        return scan_fault(f, "something stands behind the argument of %s", names[k]);
    scan_next_line(f);
    return true;
}

static bool take_argument(struct touchstone_file *f, enum keyword k, struct scan_word *out)
{
    const char *at = f->at;

    if (scan_line_is_over(f)) return scan_fault(f, "%s needs an argument on its line", names[k]);
    if (f->at == at) return scan_fault(f, "a blank is missing behind %s", names[k]);
    *out = scan_take_word(f);
    return true;
}

static bool take_whole(struct touchstone_file *f, enum keyword k, unsigned long *out)
{
    struct scan_word word;
    char digits[16] = "";

    if (!take_argument(f, k, &word)) return false;
    if (word.length < sizeof digits) memcpy(digits, word.at, word.length);
    if (!number_parse_whole(digits, 100000000, out) || *out == 0)
        return scan_fault(f, "the argument of %s is not a whole number above 0", names[k]);
    return true;
}

static bool take_version(struct touchstone_file *f)
{
    enum keyword k;
    struct scan_word word;

    if (!take_keyword(f, &k)) return false;
    if (k != KEY_VERSION) return scan_fault(f, "[Version] must come before other keywords");
    if (!take_argument(f, k, &word)) return false;
    if (!scan_word_is(word, "2.0") && !scan_word_is(word, "2.1"))
        return scan_fault(f, "only versions 2.0 and 2.1 have keywords");
    return end_line(f, k);
}

static bool take_option_line(struct touchstone_file *f)
{
    if (!scan_to_content(f) || *f->at != '#')
        return scan_fault(f, "the option line (\"# MHz S RI R 50\") must follow [Version]");
    f->at++;
    if (!touchstone_read_options(f)) return false;
    if (f->options.n_resistances > 1)
        return scan_fault(
            f, "version 2 has one resistance on the option line; [Reference] holds those "
               "of the ports");
    scan_next_line(f);
    return true;
}

static bool take_ports(struct touchstone_file *f)
{
    enum keyword k;
    unsigned long n = 0;

    if (!take_keyword(f, &k)) return false;
    if (k != KEY_PORTS) return scan_fault(f, "[Number of Ports] must follow the option line");
    if (!take_whole(f, k, &n)) return false;
    if (n > 2) return scan_fault(f, "%lu ports: only one and two ports are read", n);
    f->n_ports = (unsigned)n;
    if (f->name_ports && f->name_ports != f->n_ports)
        return scan_fault(f, "%u port%s, but the name ends in .s%up", f->n_ports,
                          f->n_ports == 1 ? "" : "s", f->name_ports);
    if (f->n_ports == 1 && (f->options.kind == NETWORK_G || f->options.kind == NETWORK_H))
        return scan_fault(f, "G and H describe two ports, this file has one");
    f->reference_ohm[0] = f->options.resistance_ohm[0];
    f->reference_ohm[1] = f->options.resistance_ohm[0];
    return end_line(f, k);
}

static bool take_order(struct touchstone_file *f)
{
    struct scan_word word;

    if (f->n_ports != 2) return scan_fault(f, "[Two-Port Data Order] is for two ports only");
    if (!take_argument(f, KEY_ORDER, &word)) return false;
    f->order_12_21 = scan_word_is(word, "12_21");
    if (!f->order_12_21 && !scan_word_is(word, "21_12"))
        return scan_fault(f, "[Two-Port Data Order] is 12_21 or 21_12");
    return end_line(f, KEY_ORDER);
}

static bool take_matrix(struct touchstone_file *f)
{
    struct scan_word word;

    if (!take_argument(f, KEY_MATRIX, &word)) return false;
    /* Of two ports, both triangles are written as 11, 21, 22. */
    f->triangle = f->n_ports == 2 && (scan_word_is(word, "Lower") || scan_word_is(word, "Upper"));
    if (!scan_word_is(word, "Full") && !scan_word_is(word, "Lower") && !scan_word_is(word, "Upper"))
        return scan_fault(f, "[Matrix Format] is Full, Lower or Upper");
    return end_line(f, KEY_MATRIX);
}

static bool take_reference(struct touchstone_file *f)
{
    const char *behind = f->at;

    if (!scan_line_is_over(f) && f->at == behind)
        return scan_fault(f, "a blank is missing behind [Reference]");
    for (unsigned i = 0; i < f->n_ports; i++) {
        if (!scan_to_content(f) || *f->at == '[')
            return scan_fault(f, "[Reference] needs a resistance for each port");
        if (!scan_number(f, 0, &f->reference_ohm[i])) return false;
        if (!(f->reference_ohm[i] > 0))
            return scan_fault(f, "a resistance of [Reference] must be above 0 ohm");
    }
    return end_line(f, KEY_REFERENCE);
}

static bool skip_information(struct touchstone_file *f)
{
    enum keyword k;

    if (!scan_skip_words(f)) return false;
    while (scan_to_content(f)) {
        size_t length = strlen(names[KEY_END_INFORMATION]);

        if (*f->at != '[' || (size_t)(f->end - f->at) < length ||
            strncasecmp(f->at, names[KEY_END_INFORMATION], length) != 0) {
            if (!scan_skip_words(f)) return false;
            continue;
        }
        return take_keyword(f, &k) && end_line(f, k);
    }
    return scan_fault(f, "[Begin Information] has no [End Information]: the file looks cut off");
}

/* One keyword of the head other than those with a fixed place. */
static bool take_head_keyword(struct touchstone_file *f, enum keyword k, struct head *head)
{
    switch (k) {
    case KEY_ORDER: return take_order(f);
    case KEY_MATRIX: return take_matrix(f);
    case KEY_REFERENCE: return take_reference(f);
    case KEY_BEGIN_INFORMATION: return skip_information(f);
    case KEY_FREQUENCIES: return take_whole(f, k, &head->n_frequencies) && end_line(f, k);
    case KEY_NOISE_FREQUENCIES:
        if (f->n_ports != 2) return scan_fault(f, "noise data are for two ports only");
        return take_whole(f, k, &head->n_noise) && end_line(f, k);
    case KEY_MIXED_MODE:
        return scan_fault(f,
                          "[Mixed-Mode Order]: mixed-mode data are not single-ended S-parameters "
                          "and cannot be judged");
    default: return scan_fault(f, "%s does not belong before [Network Data]", names[k]);
    }
}

static bool take_head(struct touchstone_file *f, struct head *head)
{
    for (;;) {
        enum keyword k;

        if (!take_keyword(f, &k)) return false;
        if (k == KEY_NETWORK_DATA) break;
        if (head->seen[k]) return scan_fault(f, "%s stands twice", names[k]);
        head->seen[k] = true;
        if (!take_head_keyword(f, k, head)) return false;
    }
    if (!head->seen[KEY_FREQUENCIES])
        return scan_fault(f, "[Number of Frequencies] is missing before [Network Data]");
    if (f->n_ports == 2 && !head->seen[KEY_ORDER])
        return scan_fault(
            f, "[Two-Port Data Order] is missing: with two ports the order must be said");
    return end_line(f, KEY_NETWORK_DATA);
}

static bool read_network_data(struct touchstone_file *f, const struct head *head)
{
    const size_t n = touchstone_row_length(f);
    double frequency_hz, numbers[8];

    while (scan_to_content(f) && *f->at != '[') {
        if (!scan_number(f, f->options.frequency_shift, &frequency_hz)) return false;
        if (!touchstone_check_frequency(f, frequency_hz)) return false;
        for (size_t i = 0; i + 1 < n; i++) {
            if (!scan_to_content(f) || *f->at == '[')
                return scan_fault(f, "the data end within a frequency: the file looks cut off");
            if (!scan_number(f, 0, &numbers[i])) return false;
        }
        if (!touchstone_add_point(f, frequency_hz, numbers)) return false;
    }
    if (f->out->n_points < head->n_frequencies && f->at == f->end)
        return scan_fault(f, "the file ends after %zu of %lu frequencies: it looks cut off",
                          f->out->n_points, head->n_frequencies);
    if (f->out->n_points != head->n_frequencies)
        return scan_fault(f, "%zu frequencies, but [Number of Frequencies] says %lu",
                          f->out->n_points, head->n_frequencies);
    return true;
}

/* Checks the noise data; they are not used. */
static bool skip_noise_data(struct touchstone_file *f, const struct head *head)
{
    double before_hz = -1, number = 0;
    unsigned long n = 0;

    if (!end_line(f, KEY_NOISE_DATA)) return false;
    for (; scan_to_content(f) && *f->at != '['; n++) {
        for (size_t i = 0; i < 5; i++) {
            if (!scan_to_content(f) || *f->at == '[')
                return scan_fault(f, "the noise data end within a frequency");
            if (!scan_number(f, i == 0 ? f->options.frequency_shift : 0, &number)) return false;
            if (i > 0) continue;
            if (!(number > before_hz))
                return scan_fault(f, "the frequency of the noise data does not rise");
            before_hz = number;
        }
    }
    if (n == head->n_noise) return true;
    return scan_fault(f, "%lu noise frequencies, but [Number of Noise Frequencies] says %lu", n,
                      head->n_noise);
}

bool touchstone_read_version2(struct touchstone_file *f)
{
    struct head head = {0};
    enum keyword k;

    if (!take_version(f) || !take_option_line(f) || !take_ports(f)) return false;
    if (!take_head(f, &head) || !read_network_data(f, &head)) return false;
    if (!take_keyword(f, &k)) return false;
    if (k == KEY_NOISE_DATA) {
        if (!head.seen[KEY_NOISE_FREQUENCIES])
            return scan_fault(f, "[Noise Data] without [Number of Noise Frequencies]");
        if (!skip_noise_data(f, &head) || !take_keyword(f, &k)) return false;
    } else if (head.seen[KEY_NOISE_FREQUENCIES]) {
        return scan_fault(f, "[Noise Data] is missing");
    }
    if (k != KEY_END) return scan_fault(f, "%s stands where [End] should be", names[k]);
    if (!end_line(f, KEY_END)) return false;
    if (scan_to_content(f))
        return scan_fault(f, "something other than comments stands behind [End]");
    return true;
}
