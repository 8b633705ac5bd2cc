/* The beginning of every file, version 1 as a whole, and points of both versions. */
#include <math.h>
#include <string.h>
#include <strings.h>

#include "drivers/touchstone.h"
#include "drivers/touchstone_scan.h"

#define ROW_NUMBERS 9 /* a frequency and four pairs */

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

bool touchstone_add_point(struct touchstone_file *f, double frequency_hz, const double *numbers)
{
    struct sweep *out = f->out;
    double complex *m;

    if (!(frequency_hz >= 0)) return scan_fault(f, "a frequency is below 0");
    if (out->n_points > 0 && !(frequency_hz > out->frequency_hz[out->n_points - 1]))
        return scan_fault(f, "the frequency does not rise: it must be above the one before it");
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

static unsigned ports_of_name(const char *path)
{
    size_t length = strlen(path);

    if (length > 4 && strcasecmp(path + length - 4, ".s1p") == 0) return 1;
    if (length > 4 && strcasecmp(path + length - 4, ".s2p") == 0) return 2;
    return 0;
}

/* Ports of a version 1 file from its first row, which may go over lines: the first line of a row
 * holds an odd number of numbers, those that go on an even one. */
static bool find_ports(struct touchstone_file *f)
{
    struct touchstone_file ahead = *f;
    size_t n;

    if (!scan_to_content(&ahead)) return scan_fault(f, "the file holds no data");
    f->line = ahead.line;
    n = scan_count_words(&ahead);
    if (n % 2 == 0)
        return scan_fault(
            f, "a row begins with %zu numbers; a frequency and pairs make an odd number", n);
    for (;;) {
        size_t more;

        scan_next_line(&ahead);
        if (!scan_to_content(&ahead)) break;
        more = scan_count_words(&ahead);
        if (more % 2 != 0 || *ahead.at == '#' || n > ROW_NUMBERS) break;
        n += more;
    }
    if (n > ROW_NUMBERS)
        return scan_fault(f, "a row has more than %d numbers: only one and two ports are read",
                          ROW_NUMBERS);
    if (n != 3 && n != ROW_NUMBERS)
        return scan_fault(f, "a row has %zu numbers; one port has 3, two ports have %d", n,
                          ROW_NUMBERS);
    f->n_ports = n == 3 ? 1 : 2;
    if (f->name_ports && f->name_ports != f->n_ports)
        return scan_fault(f, "the rows are those of %u port%s, the name ends in .s%up", f->n_ports,
                          f->n_ports == 1 ? "" : "s", f->name_ports);
    return true;
}

/* Checks the noise rows to the end of the file; they are not used. */
static bool skip_noise(struct touchstone_file *f)
{
    double before_hz = -1, numbers[5];

    while (scan_to_content(f)) {
        if (scan_count_words(f) != 5)
            return scan_fault(f,
                              "among the noise data, which have five numbers a row, stands another "
                              "row");
        for (size_t i = 0; i < 5; i++) {
            (void)scan_line_is_over(f);
            if (!scan_number(f, i == 0 ? f->options.frequency_shift : 0, &numbers[i])) return false;
        }
        if (!(numbers[0] > before_hz))
            return scan_fault(f, "the frequency of the noise data does not rise");
        before_hz = numbers[0];
        scan_next_line(f);
    }
    return true;
}

/* Reads the numbers behind the frequency, over lines if need be; a new row begins on a new line. */
static bool read_row(struct touchstone_file *f, double *numbers, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (scan_line_is_over(f) && !scan_to_content(f))
            return scan_fault(f, "the file ends within a row: it looks cut off");
        if (*f->at == '#') return scan_fault(f, "an option line stands within a row");
        if (!scan_number(f, 0, &numbers[i])) return false;
    }
    if (!scan_line_is_over(f))
        return scan_fault(f, "a row has more numbers than the %zu of %u port%s", n + 1, f->n_ports,
                          f->n_ports == 1 ? "" : "s");
    return true;
}

static bool read_version1_data(struct touchstone_file *f)
{
    const size_t n = touchstone_row_length(f);
    double frequency_hz, numbers[ROW_NUMBERS];

    while (scan_to_content(f)) {
        /* Only the first option line counts; later ones are left out, as the specification says. */
        if (*f->at == '#') {
            scan_next_line(f);
            continue;
        }
        if (f->out->n_points > 0 && f->n_ports == 2 && scan_count_words(f) == 5) {
            const char *at = f->at;

            if (!scan_number(f, f->options.frequency_shift, &frequency_hz)) return false;
            f->at = at;
            if (frequency_hz <= f->out->frequency_hz[f->out->n_points - 1]) return skip_noise(f);
        }
        if (!scan_number(f, f->options.frequency_shift, &frequency_hz)) return false;
        if (!read_row(f, numbers, n - 1)) return false;
        if (!touchstone_add_point(f, frequency_hz, numbers)) return false;
    }
    if (f->out->n_points == 0) return scan_fault(f, "the file holds no data");
    return true;
}

static bool read_version1(struct touchstone_file *f)
{
    if (!touchstone_read_options(f)) return false;
    scan_next_line(f);
    f->normalised = true;
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
