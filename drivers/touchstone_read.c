/* The beginning of every file, version 1 as a whole, and points of both versions. */
#include <math.h>
#include <string.h>
#include <strings.h>

#include "drivers/touchstone.h"
#include "drivers/touchstone_scan.h"

#define ROW_NUMBERS 9   /* a frequency and four pairs */
#define NOISE_NUMBERS 5 /* of a row of noise data */

size_t touchstone_row_length(const struct touchstone_file *f)
{
    if (f->n_ports == 1) return 3;
    return f->triangle ? 7 : ROW_NUMBERS;
}

static double complex pair_value(const double *pair, enum value_format format)
{
    double magnitude, angle;

    if (format == FORMAT_RI) return CMPLX(pair[0], pair[1]);
    magnitude = format == FORMAT_DB ? pow(10, pair[0] / 20) : pair[0];
    angle = pair[1] * (M_PI / 180);
    return CMPLX(magnitude * cos(angle), magnitude * sin(angle));
}

/* Takes version 1 numbers from their normalised form to ohms and siemens; H and G mix both. */
static void denormalise(enum network_kind kind, double r_ohm, double complex m[S_PARAMETERS])
{
    switch (kind) {
    case NETWORK_Z:
        for (size_t i = 0; i < S_PARAMETERS; i++)
            m[i] = CMPLX(creal(m[i]) * r_ohm, cimag(m[i]) * r_ohm);
        break;
    case NETWORK_Y:
        for (size_t i = 0; i < S_PARAMETERS; i++)
            m[i] = CMPLX(creal(m[i]) / r_ohm, cimag(m[i]) / r_ohm);
        break;
    case NETWORK_H:
        m[S11] = CMPLX(creal(m[S11]) * r_ohm, cimag(m[S11]) * r_ohm);
        m[S22] = CMPLX(creal(m[S22]) / r_ohm, cimag(m[S22]) / r_ohm);
        break;
    case NETWORK_G:
        m[S11] = CMPLX(creal(m[S11]) / r_ohm, cimag(m[S11]) / r_ohm);
        m[S22] = CMPLX(creal(m[S22]) * r_ohm, cimag(m[S22]) * r_ohm);
        break;
    case NETWORK_S: break;
    }
}

/* The pairs of a row, in the file's order, as a row-major matrix. */
static void place_pairs(const struct touchstone_file *f, const double *numbers,
                        double complex m[S_PARAMETERS])
{
    enum s_parameter second = f->order_12_21 ? S12 : S21, third = f->order_12_21 ? S21 : S12;
    enum value_format format = f->options.format;

    m[S11] = pair_value(numbers, format);
    if (f->n_ports == 1) return;
    if (f->triangle) {
        m[S12] = m[S21] = pair_value(numbers + 2, format);
        m[S22] = pair_value(numbers + 4, format);
        return;
    }
    m[second] = pair_value(numbers + 2, format);
    m[third] = pair_value(numbers + 4, format);
    m[S22] = pair_value(numbers + 6, format);
}

bool touchstone_check_frequency(struct touchstone_file *f, double frequency_hz)
{
    const struct sweep *out = f->out;

    if (!(frequency_hz >= 0)) return scan_fault(f, "a frequency is below 0");
    if (out->n_points > 0 && !(frequency_hz > out->frequency_hz[out->n_points - 1]))
        return scan_fault(f, "the frequency does not rise: it must be above the one before it");
    return true;
}

bool touchstone_add_point(struct touchstone_file *f, double frequency_hz, const double *numbers)
{
    struct sweep *out = f->out;
    double complex *m;

    if (out->n_points == CEILING_SWEEP_POINTS)
        return scan_fault(f, "more than %zu points", CEILING_SWEEP_POINTS);
    if (!sweep_reserve(out, out->n_points + 1, f->e)) return false;
    m = &out->s[S_PARAMETERS * out->n_points];
    for (size_t i = 0; i < S_PARAMETERS; i++)
        m[i] = CMPLX(NAN, NAN);
    place_pairs(f, numbers, m);
    if (f->options.kind != NETWORK_S) {
        if (f->normalised) denormalise(f->options.kind, f->options.resistance_ohm[0], m);
        if (!network_to_s(f->options.kind, f->n_ports, f->reference_ohm, m))
            return scan_fault(f, "this network has no S-parameters (its matrix is singular)");
    }
    for (size_t i = 0; i < (f->n_ports == 1 ? 1 : S_PARAMETERS); i++)
        if (!isfinite(creal(m[i])) || !isfinite(cimag(m[i])))
            return scan_fault(f, "a value is too large to be a parameter of a network");
    out->frequency_hz[out->n_points++] = frequency_hz;
    return true;
}

/* The N of a name that ends in .sNp, at most 9999; 0 when it has no such ending. */
static unsigned ports_of_name(const char *path)
{
    const char *dot = strrchr(path, '.');
    size_t digits = 0;
    unsigned n = 0;

    if (!dot || (dot[1] != 's' && dot[1] != 'S')) return 0;
    for (; dot[2 + digits] >= '0' && dot[2 + digits] <= '9'; digits++)
        if (n < 1000) n = n * 10 + (unsigned)(dot[2 + digits] - '0');
    return digits > 0 && strcasecmp(dot + 2 + digits, "p") == 0 ? n : 0;
}

/* Only the first option line counts; later ones are left out, as the specification says. Goes to
 * the next line that is none; `*found` tells whether there is one. */
static bool go_to_data(struct touchstone_file *f, bool *found)
{
    while ((*found = scan_to_content(f)) && *f->at == '#')
        if (!scan_skip_words(f)) return false;
    return true;
}

/* The numbers of the first row, which may go over lines: the first line of a row holds an odd
 * number of numbers, those that go on an even one. No more lines are looked at than `enough`
 * numbers take, so that a fault of a later row is told where it is. */
static size_t count_first_row(const struct touchstone_file *f, size_t enough)
{
    struct touchstone_file ahead = *f;
    size_t n = scan_count_words(&ahead);

    while (n < enough) {
        size_t more;

        scan_next_line(&ahead);
        if (!scan_to_content(&ahead) || *ahead.at == '#') break;
        more = scan_count_words(&ahead);
        if (more % 2 != 0) break;
        n += more;
    }
    return n;
}

/* Ports of a version 1 file from its first row, which is at hand. */
static bool find_ports(struct touchstone_file *f)
{
    const char *kept = f->at;
    double number;
    size_t n;

    if (*f->at == '[')
        return scan_fault(f, "a keyword in a file that does not begin with [Version]");
    if (!scan_number(f, 0, &number)) return false;
    f->at = kept;
    n = scan_count_words(f);
    if (n % 2 == 0)
        return scan_fault(
            f, "a row begins with %zu numbers; a frequency and pairs make an odd number", n);
    n = count_first_row(f, f->name_ports == 1   ? 3
                           : f->name_ports == 2 ? ROW_NUMBERS
                                                : ROW_NUMBERS + 1);
    if (n > ROW_NUMBERS)
        return scan_fault(f, "a row has more than %d numbers: only one and two ports are read",
                          ROW_NUMBERS);
    if (n != 3 && n != ROW_NUMBERS)
        return scan_fault(f, "a row has %zu numbers; one port has 3, two ports have %d", n,
                          ROW_NUMBERS);
    f->n_ports = n == 3 ? 1 : 2;
    if (f->name_ports && f->name_ports != f->n_ports)
        return scan_fault(f, "the rows are those of %u port%s, but the name ends in .s%up",
                          f->n_ports, f->n_ports == 1 ? "" : "s", f->name_ports);
    return true;
}

/* Checks the noise rows to the end of the file; they are not used. */
static bool skip_noise(struct touchstone_file *f)
{
    double before_hz = -1, number = 0;

    while (scan_to_content(f)) {
        size_t n = scan_count_words(f);

        if (n != NOISE_NUMBERS)
            return scan_fault(f,
                              "behind a frequency that did not rise, only noise data may stand, "
                              "%d numbers a row, and this row has %zu",
                              NOISE_NUMBERS, n);
        for (size_t i = 0; i < NOISE_NUMBERS; i++) {
            (void)scan_line_is_over(f);
            if (!scan_number(f, i == 0 ? f->options.frequency_shift : 0, &number)) return false;
            if (i > 0) continue;
            if (!(number > before_hz))
                return scan_fault(f,
                                  "the frequency of the noise data does not rise, or is below 0");
            before_hz = number;
        }
        scan_next_line(f);
    }
    return true;
}

/* Reads the numbers behind the frequency, over lines if need be; a new row begins on a new line. */
static bool read_row(struct touchstone_file *f, double *numbers, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (scan_line_is_over(f)) {
            if (!scan_to_content(f))
                return scan_fault(f, "the file ends within a row: it looks cut off");
            if (*f->at == '#') return scan_fault(f, "an option line stands within a row");
        }
        if (!scan_number(f, 0, &numbers[i])) return false;
    }
    if (scan_line_is_over(f)) return true;
    return scan_fault(f, "a row has more numbers than the %zu of %u port%s", n + 1, f->n_ports,
                      f->n_ports == 1 ? "" : "s");
}

/* Noise data begin where the frequency does not rise and five numbers stand on the line. */
static bool begins_noise(struct touchstone_file *f, double frequency_hz)
{
    const struct sweep *out = f->out;

    return f->n_ports == 2 && out->n_points > 0 &&
           frequency_hz <= out->frequency_hz[out->n_points - 1] &&
           scan_count_words(f) == NOISE_NUMBERS - 1;
}

static bool read_version1_data(struct touchstone_file *f)
{
    const size_t n = touchstone_row_length(f);
    double frequency_hz, numbers[ROW_NUMBERS];

    for (;;) {
        const char *row;
        bool found;

        if (!go_to_data(f, &found)) return false;
        if (!found) return true;
        row = f->at;
        if (!scan_number(f, f->options.frequency_shift, &frequency_hz)) return false;
        if (begins_noise(f, frequency_hz)) {
            f->at = row;
            return skip_noise(f);
        }
        if (!touchstone_check_frequency(f, frequency_hz)) return false;
        if (!read_row(f, numbers, n - 1)) return false;
        if (!touchstone_add_point(f, frequency_hz, numbers)) return false;
    }
}

static bool read_version1(struct touchstone_file *f)
{
    bool found;

    if (!touchstone_read_options(f)) return false;
    scan_next_line(f);
    f->normalised = true;
    if (!go_to_data(f, &found)) return false;
    if (!found) return scan_fault(f, "the file holds no data");
    if (!find_ports(f)) return false;
    if (f->options.n_resistances == 2 && (f->n_ports != 2 || f->options.kind != NETWORK_S))
        return scan_fault(f, "two resistances can be read for two-port S-parameters only");
    if (f->n_ports == 1 && (f->options.kind == NETWORK_G || f->options.kind == NETWORK_H))
        return scan_fault(f, "G and H describe two ports, the data are those of one");
    f->reference_ohm[0] = f->options.resistance_ohm[0];
    f->reference_ohm[1] = f->options.resistance_ohm[1];
    return read_version1_data(f);
}

static bool refuse_nul(struct touchstone_file *f)
{
    const char *nul = memchr(f->at, '\0', (size_t)(f->end - f->at));
    struct touchstone_file walk = *f;

    if (!nul) return true;
    while (walk.at < nul) {
        f->line = walk.line;
        scan_next_line(&walk);
    }
    if (walk.at == nul) f->line = walk.line;
    return scan_fault(f, "holds a NUL byte: the file is damaged or is not text");
}

static bool read_file(struct touchstone_file *f)
{
    if (f->name_ports > 2)
        return scan_fault(f, "the name is that of %u ports: only one and two ports are read",
                          f->name_ports);
    if (!refuse_nul(f)) return false;
    if (f->end - f->at >= 3 && memcmp(f->at, "\xEF\xBB\xBF", 3) == 0) f->begin = f->at += 3;
    if (!scan_to_content(f)) return scan_fault(f, "the file holds no data");
    if (*f->at == '#') {
        f->at++;
        return read_version1(f);
    }
    if (*f->at == '[') return touchstone_read_version2(f);
    return scan_fault(f,
                      "no option line (\"# MHz S RI R 50\") stands before the data: without it the "
                      "numbers could mean anything");
}

bool touchstone_read(const char *path, const char *bytes, size_t length, struct sweep *out,
                     struct error *e)
{
    struct touchstone_file f = {.path = path,
                                .begin = bytes,
                                .at = bytes,
                                .end = bytes + length,
                                .line = 1,
                                .out = out,
                                .e = e,
                                .name_ports = ports_of_name(path)};

    sweep_reset(out);
    if (!read_file(&f)) {
        sweep_reset(out);
        return false;
    }
    out->n_ports = f.n_ports;
    out->measured = f.n_ports == 1 ? S_BIT(S11) : S_ALL;
    out->z0_ohm[0] = f.reference_ohm[0];
    out->z0_ohm[1] = f.n_ports == 1 ? f.reference_ohm[0] : f.reference_ohm[1];
    return true;
}
