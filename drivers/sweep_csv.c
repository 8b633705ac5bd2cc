#include "drivers/sweep_csv.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/csv.h"
#include "drivers/base/number.h"

/* How a pair of columns holds a parameter. */
enum pair_form { FORM_NONE = 0, FORM_RE_IM, FORM_DB_DEG, FORM_MAG_DEG };

struct pair {
    size_t first, second; /* cells, from 1; 0: not there */
    enum pair_form form;
};

struct reading {
    const char *path;
    struct sweep *out;
    bool has_header;
    size_t n_cells, frequency; /* the cell of frequency_hz, from 1 */
    struct pair pairs[S_PARAMETERS];
};

static const char *const prefixes[S_PARAMETERS] = {"s11_", "s12_", "s21_", "s22_"};

static const struct {
    const char *name;
    bool is_second;
    enum pair_form form; /* FORM_NONE: goes with db and with mag */
} endings[] = {
    {"re", false, FORM_RE_IM},    {"im", true, FORM_RE_IM}, {"db", false, FORM_DB_DEG},
    {"mag", false, FORM_MAG_DEG}, {"deg", true, FORM_NONE},
};

/* A cell as one may print it in one line: at most 40 bytes, control characters as '?'. */
static const char *printable(const char *cell, char out[44])
{
    const size_t length = strnlen(cell, 40);
    size_t n = 0;

    for (; n < length; n++)
        out[n] = (unsigned char)cell[n] < 0x20 || cell[n] == 0x7f ? '?' : cell[n];
    (void)snprintf(out + n, 44 - n, "%s", cell[n] ? "..." : "");
    return out;
}

static bool column_fault(const struct reading *r, unsigned long line, const char *name,
                         const char *words, struct error *e)
{
    char shown[44];

    return error_set(e, ERROR_INPUT,
                     "%s:%lu: the column \"%s\" %s: a header is frequency_hz and for each "
                     "parameter s21_re,s21_im or s21_db,s21_deg or s21_mag,s21_deg",
                     r->path, line, printable(name, shown), words);
}

/* Notes the column `cell` (from 1) called `name`. */
static bool take_column(struct reading *r, unsigned long line, const char *name, size_t cell,
                        struct error *e)
{
    if (strcmp(name, "frequency_hz") == 0) {
        if (r->frequency) return column_fault(r, line, name, "stands twice", e);
        r->frequency = cell;
        return true;
    }
    for (size_t p = 0; p < S_PARAMETERS; p++) {
        if (strncmp(name, prefixes[p], 4) != 0) continue;
        for (size_t i = 0; i < sizeof endings / sizeof *endings; i++) {
            struct pair *pair = &r->pairs[p];
            size_t *place = endings[i].is_second ? &pair->second : &pair->first;

            if (strcmp(name + 4, endings[i].name) != 0) continue;
            if (*place)
                return column_fault(r, line, name, "says a second time what another says", e);
            *place = cell;
            /* deg leaves the form to its partner, im says it. */
            if (endings[i].form != FORM_NONE) {
                if (pair->form && pair->form != endings[i].form)
                    return column_fault(r, line, name, "does not go with its partner", e);
                pair->form = endings[i].form;
            } else if (pair->form == FORM_RE_IM) {
                return column_fault(r, line, name, "does not go with its partner", e);
            }
            return true;
        }
    }
    return column_fault(r, line, name, "is not known", e);
}

static bool take_header(struct reading *r, unsigned long line, char *const *cells, size_t n_cells,
                        struct error *e)
{
    r->has_header = true;
    r->n_cells = n_cells;
    for (size_t i = 0; i < n_cells; i++)
        if (!take_column(r, line, cells[i], i + 1, e)) return false;
    if (!r->frequency) return column_fault(r, line, "frequency_hz", "is missing", e);
    for (size_t p = 0; p < S_PARAMETERS; p++) {
        const struct pair *pair = &r->pairs[p];

        if (!pair->first != !pair->second)
            return column_fault(r, line, prefixes[p], "is half of a pair", e);
        /* "re" with "deg" or "im" with "db" leave a form that does not name both. */
        if (pair->first &&
            strcmp(cells[pair->second - 1] + 4, pair->form == FORM_RE_IM ? "im" : "deg") != 0)
            return column_fault(r, line, cells[pair->second - 1], "does not go with its partner",
                                e);
        if (pair->first) r->out->measured |= S_BIT(p);
    }
    if (!r->out->measured) return column_fault(r, line, "s21_re", "is missing", e);
    return true;
}

static bool read_cell(const struct reading *r, unsigned long line, char *const *cells, size_t cell,
                      double *out, struct error *e)
{
    char shown[44];

    if (number_parse(cells[cell - 1], out)) return true;
    return error_set(e, ERROR_INPUT, "%s:%lu: \"%s\" is not a finite decimal number", r->path, line,
                     printable(cells[cell - 1], shown));
}

static double complex value_of(enum pair_form form, double first, double second)
{
    double magnitude = form == FORM_DB_DEG ? pow(10, first / 20) : first;
    double angle = second * (M_PI / 180);

    if (form == FORM_RE_IM) return CMPLX(first, second);
    return CMPLX(magnitude * cos(angle), magnitude * sin(angle));
}

static bool take_point(struct reading *r, unsigned long line, char *const *cells, struct error *e)
{
    struct sweep *out = r->out;
    double frequency_hz = 0, first = 0, second = 0;

    if (!read_cell(r, line, cells, r->frequency, &frequency_hz, e)) return false;
    if (!(frequency_hz >= 0) ||
        (out->n_points > 0 && !(frequency_hz > out->frequency_hz[out->n_points - 1])))
        return error_set(e, ERROR_INPUT, "%s:%lu: the frequency does not rise, or is below 0",
                         r->path, line);
    if (out->n_points == CEILING_SWEEP_POINTS)
        return error_set(e, ERROR_INPUT, "%s:%lu: more than %zu points", r->path, line,
                         CEILING_SWEEP_POINTS);
    if (!sweep_reserve(out, out->n_points + 1, e)) return false;
    for (size_t p = 0; p < S_PARAMETERS; p++) {
        double complex *s = &out->s[S_PARAMETERS * out->n_points + p];

        *s = CMPLX(NAN, NAN);
        if (!r->pairs[p].first) continue;
        if (!read_cell(r, line, cells, r->pairs[p].first, &first, e)) return false;
        if (!read_cell(r, line, cells, r->pairs[p].second, &second, e)) return false;
        *s = value_of(r->pairs[p].form, first, second);
        if (!isfinite(creal(*s)) || !isfinite(cimag(*s)))
            return error_set(e, ERROR_INPUT,
                             "%s:%lu: a value is too large to be a parameter of a network", r->path,
                             line);
    }
    out->frequency_hz[out->n_points++] = frequency_hz;
    return true;
}

static bool take_row(void *context, unsigned long line, char *const *cells, size_t n_cells,
                     struct error *e)
{
    struct reading *r = context;

    if (!r->has_header) return take_header(r, line, cells, n_cells, e);
    if (n_cells != r->n_cells)
        return error_set(e, ERROR_INPUT, "%s:%lu: %zu cells where the header has %zu", r->path,
                         line, n_cells, r->n_cells);
    return take_point(r, line, cells, e);
}

bool sweep_csv_read(const char *path, const char *bytes, size_t length, struct sweep *out,
                    struct error *e)
{
    struct reading r = {.path = path, .out = out};
    bool ok;

    sweep_reset(out);
    ok = csv_read(path, bytes, length, take_row, &r, e);
    if (ok && out->n_points == 0)
        ok = error_set(e, ERROR_INPUT, "%s:1: the file holds no data", path);
    if (!ok) {
        sweep_reset(out);
        return false;
    }
    out->n_ports = out->measured == S_BIT(S11) ? 1 : 2;
    out->z0_ohm[0] = out->z0_ohm[1] = SWEEP_CSV_Z0_OHM;
    return true;
}

void sweep_csv_write(const struct sweep *sweep, struct text *out)
{
    static const enum s_parameter order[S_PARAMETERS] = {S11, S21, S12, S22};

    assert(sweep->z0_ohm[0] == SWEEP_CSV_Z0_OHM && sweep->z0_ohm[1] == SWEEP_CSV_Z0_OHM);
    text_add(out, "frequency_hz");
    for (size_t k = 0; k < S_PARAMETERS; k++)
        if (sweep->measured & S_BIT(order[k]))
            text_addf(out, ",%sre,%sim", prefixes[order[k]], prefixes[order[k]]);
    text_add(out, "\r\n");
    for (size_t i = 0; i < sweep->n_points; i++) {
        text_add_number(out, sweep->frequency_hz[i]);
        for (size_t k = 0; k < S_PARAMETERS; k++) {
            if (!(sweep->measured & S_BIT(order[k]))) continue;
            text_add(out, ",");
            text_add_number(out, creal(sweep_s(sweep, i, order[k])));
            text_add(out, ",");
            text_add_number(out, cimag(sweep_s(sweep, i, order[k])));
        }
        text_add(out, "\r\n");
    }
}
