#include "drivers/emulator_scpi.h"

#include <math.h>
#include <string.h>
#include <strings.h>

#include "drivers/base/number.h"

/* SCPI-1999 volume 2, 21.8: those that can happen here, or that a fault can ask for. */
static const struct {
    int number;
    const char *words;
} known_errors[] = {
    {-101, "Invalid character"},
    {-102, "Syntax error"},
    {-103, "Invalid separator"},
    {-104, "Data type error"},
    {-108, "Parameter not allowed"},
    {-109, "Missing parameter"},
    {-111, "Header separator error"},
    {-112, "Program mnemonic too long"},
    {-113, "Undefined header"},
    {-114, "Header suffix out of range"},
    {-131, "Invalid suffix"},
    {-138, "Suffix not allowed"},
    {-141, "Invalid character data"},
    {-151, "Invalid string data"},
    {-168, "Block data not allowed"},
    {-213, "Init ignored"},
    {-221, "Settings conflict"},
    {-222, "Data out of range"},
    {-224, "Illegal parameter value"},
    {-225, "Out of memory"},
    {-230, "Data corrupt or stale"},
    {-240, "Hardware error"},
    {-310, "System error"},
    {-313, "Calibration memory lost"},
    {-350, "Queue overflow"},
    {-363, "Input buffer overrun"},
    {-440, "Query UNTERMINATED after indefinite response"},
};

void emulator_error_add(struct emulator_errors *errors, int number)
{
    if (errors->n < EMULATOR_ERRORS)
        errors->number[errors->n++] = number;
    else
        errors->number[EMULATOR_ERRORS - 1] = -350;
}

void emulator_error_take(struct emulator_errors *errors, struct text *answer)
{
    const char *words = "";
    int number;

    if (errors->n == 0) {
        text_add(answer, "0,\"No error\"");
        return;
    }
    number = errors->number[0];
    errors->n--;
    memmove(errors->number, errors->number + 1, errors->n * sizeof *errors->number);
    for (size_t i = 0; i < sizeof known_errors / sizeof *known_errors; i++)
        if (known_errors[i].number == number) words = known_errors[i].words;
    text_addf(answer, "%s%d,\"%s\"", number > 0 ? "+" : "", number, words);
}

/* IEEE 488.2, 7.4.1.2: every code up to the blank but the newline. */
static bool is_white(char c)
{
    return (unsigned char)c <= 0x20 && c != '\n';
}

/* Not isalpha(): it follows the locale. */
static bool is_letter(char c)
{
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static void skip_white(struct emulator_message *m)
{
    while (m->at < m->end && is_white(*m->at))
        m->at++;
}

/* Copies the header, path in front where it continues there. */
static int read_header(struct emulator_message *m, struct emulator_unit *out)
{
    const bool from_root = *m->at == ':', is_common = *m->at == '*';
    size_t n = 0, mnemonic = 0, colon = 0;

    if (from_root) m->at++;
    if (!from_root && !is_common) {
        n = colon = strlen(m->path);
        memcpy(out->header, m->path, n);
    }
    if (is_common) out->header[n++] = *m->at++;
    if (!is_letter(*m->at)) return m->at < m->end && *m->at != ':' ? -101 : -102;
    for (; is_letter(*m->at) || is_digit(*m->at) || *m->at == '_' || *m->at == ':'; m->at++) {
        const bool is_colon = *m->at == ':';

        if (is_colon && (mnemonic == 0 || is_common)) return -102;
        mnemonic = is_colon ? 0 : mnemonic + 1;
        if (mnemonic > EMULATOR_MNEMONIC || n + 1 >= sizeof out->header) return -112;
        out->header[n++] = *m->at;
        if (is_colon) colon = n;
    }
    if (mnemonic == 0) return -102;
    out->header[n] = '\0';
    if (!is_common) {
        memcpy(m->path, out->header, colon);
        m->path[colon] = '\0';
    }
    out->is_query = *m->at == '?';
    if (out->is_query) m->at++;
    if (m->at == m->end || is_white(*m->at) || *m->at == ';') return 0;
    return (unsigned char)*m->at > 126 || *m->at == '@' ? -101 : -111;
}

/* Moves behind a string; false when it does not end. */
static bool skip_string(struct emulator_message *m)
{
    const char quote = *m->at++;

    /* A doubled quote looks like two strings side by side, which is all the same here. */
    while (m->at < m->end && *m->at != quote)
        m->at++;
    if (m->at == m->end) return false;
    m->at++;
    return true;
}

static int read_datum(struct emulator_message *m, struct emulator_datum *out)
{
    skip_white(m);
    if (*m->at == '#' && is_digit(m->at[1])) return -168;
    out->at = m->at;
    while (m->at < m->end && *m->at != ',' && *m->at != ';') {
        if ((unsigned char)*m->at > 126) return -101;
        if (*m->at == '"' || *m->at == '\'') {
            if (!skip_string(m)) return -151;
        } else {
            m->at++;
        }
    }
    out->length = (size_t)(m->at - out->at);
    while (out->length > 0 && is_white(out->at[out->length - 1]))
        out->length--;
    return out->length > 0 ? 0 : -102;
}

int emulator_next_unit(struct emulator_message *m, struct emulator_unit *out, bool *there)
{
    int number;

    *out = (struct emulator_unit){0};
    *there = false;
    skip_white(m);
    if (m->at == m->end) {
        return 0;
    } else if (m->begun) {
        /* read_datum() and read_header() stop at the semicolon or at the end. */
        m->at++;
        skip_white(m);
    }
    m->begun = true;
    number = read_header(m, out);
    if (number) return number;
    skip_white(m);
    while (m->at < m->end && *m->at != ';') {
        if (out->n_data > 0) m->at++; /* the comma */
        if (out->n_data == EMULATOR_DATA) return -108;
        number = read_datum(m, &out->data[out->n_data++]);
        if (number) return number;
        if (*m->at == ',' && m->at + 1 == m->end) return -102;
    }
    *there = true;
    return 0;
}

/* One node of a pattern. */
struct node {
    struct emulator_datum names; /* alternatives, | between */
    bool is_optional, takes_suffix;
};

static unsigned split_pattern(const char *pattern, struct node nodes[EMULATOR_NODES])
{
    bool is_optional = false;
    unsigned n = 0;

    for (const char *at = pattern; *at && n < EMULATOR_NODES;) {
        const size_t length = strcspn(at, "[]:#");

        if (length > 0) nodes[n++] = (struct node){{at, length}, is_optional, false};
        at += length;
        if (*at == '[') is_optional = true;
        if (*at == ']') is_optional = false;
        if (*at == '#' && n > 0) nodes[n - 1].takes_suffix = true;
        if (*at) at++;
    }
    return n;
}

static bool is_name(const char *word, size_t length, const char *name, size_t name_length)
{
    size_t n_short = 0;

    while (n_short < name_length && !(name[n_short] >= 'a' && name[n_short] <= 'z'))
        n_short++;
    return (length == n_short || length == name_length) && strncasecmp(word, name, length) == 0;
}

static bool is_one_of(const char *word, size_t length, struct emulator_datum names)
{
    for (size_t at = 0; at <= names.length;) {
        const char *bar = memchr(names.at + at, '|', names.length - at);
        const size_t name_length = bar ? (size_t)(bar - names.at) - at : names.length - at;

        if (is_name(word, length, names.at + at, name_length)) return true;
        at += name_length + 1;
    }
    return false;
}

static bool is_node(const char *word, size_t length, const struct node *node, bool *bad_suffix)
{
    size_t digits = 0;

    if (is_one_of(word, length, node->names)) return true;
    while (digits < length && is_digit(word[length - 1 - digits]))
        digits++;
    if (!node->takes_suffix || digits == 0 || !is_one_of(word, length - digits, node->names))
        return false;
    if (digits != 1 || word[length - 1] != '1') *bad_suffix = true;
    return true;
}

/* The places of the pattern that can be reached from `at` by leaving nodes out: a bit each. */
static unsigned reach(const struct node *nodes, unsigned n, unsigned at)
{
    unsigned places = 1U << at;

    while (at < n && nodes[at].is_optional)
        places |= 1U << ++at;
    return places;
}

int emulator_match(const char *pattern, const char *header)
{
    struct node nodes[EMULATOR_NODES];
    const unsigned n = split_pattern(pattern, nodes);
    unsigned places = reach(nodes, n, 0);
    bool bad_suffix = false;

    for (const char *at = header;;) {
        const size_t length = strcspn(at, ":");
        unsigned next = 0;

        for (unsigned i = 0; i < n; i++)
            if (places & 1U << i && is_node(at, length, &nodes[i], &bad_suffix))
                next |= reach(nodes, n, i + 1);
        places = next;
        at += length;
        if (!*at || !places) break;
        at++;
    }
    if (!(places & 1U << n)) return -113;
    return bad_suffix ? -114 : 0;
}

bool emulator_is_word(struct emulator_datum datum, const char *pattern)
{
    return is_name(datum.at, datum.length, pattern, strlen(pattern));
}

/* The factor of a suffix; 0 when it is none of this unit. */
static double suffix_factor(const char *at, size_t length, const char *unit)
{
    static const struct {
        const char *letters;
        double factor;
    } multipliers[] = {{"", 1},     {"G", 1e9},  {"MA", 1e6}, {"K", 1e3},
                       {"M", 1e-3}, {"U", 1e-6}, {"N", 1e-9}};
    const size_t n_unit = strlen(unit);

    if (length < n_unit || strncasecmp(at + length - n_unit, unit, n_unit) != 0) return 0;
    if (length == 3 && strncasecmp(at, "MHZ", 3) == 0) return 1e6;
    for (size_t i = 0; i < sizeof multipliers / sizeof *multipliers; i++)
        if (strlen(multipliers[i].letters) == length - n_unit &&
            strncasecmp(at, multipliers[i].letters, length - n_unit) == 0)
            return multipliers[i].factor;
    return 0;
}

int emulator_number(struct emulator_datum datum, const char *unit, double *out)
{
    const char *at = datum.at, *end = datum.at + datum.length;
    double x, factor;

    if (!number_scan(&at, end, &x)) return -104;
    while (at < end && is_white(*at))
        at++;
    if (at < end) {
        if (!is_letter(*at)) return -103;
        if (!*unit) return -138;
        factor = suffix_factor(at, (size_t)(end - at), unit);
        if (factor == 0) return -131;
        x *= factor;
    }
    *out = x;
    return 0;
}

int emulator_boolean(struct emulator_datum datum, bool *out)
{
    double x;
    int number;

    if (emulator_is_word(datum, "ON") || emulator_is_word(datum, "OFF")) {
        *out = datum.length == 2;
        return 0;
    }
    if (is_letter(*datum.at)) return -141;
    number = emulator_number(datum, "", &x);
    if (number == 0) *out = round(x) != 0;
    return number;
}

int emulator_string(struct emulator_datum datum, char *out, size_t room)
{
    const char quote = *datum.at;
    size_t n = 0;

    if (quote != '"' && quote != '\'') return -104;
    if (datum.length < 2 || datum.at[datum.length - 1] != quote) return -151;
    for (size_t i = 1; i < datum.length - 1; i++) {
        if (datum.at[i] == quote && (datum.at[++i] != quote || i == datum.length - 1)) return -151;
        if (n + 1 >= room) return -224;
        out[n++] = datum.at[i];
    }
    out[n] = '\0';
    return 0;
}
