#include "drivers/touchstone.h"

#include <math.h>

/* A comment may hold what the specification allows, printable ASCII; other bytes become '?'. */
static void add_comment(struct text *out, const char *comment)
{
    text_add(out, "! ");
    for (; *comment; comment++)
        text_add_bytes(out, *comment < 0x20 || *comment > 0x7e ? "?" : comment, 1);
    text_add(out, "\n");
}

/* Numbers of one point besides its frequency are those of this many parameters. */
static size_t parameters_of(const struct sweep *sweep)
{
    return sweep->n_ports == 1 ? 1 : S_PARAMETERS;
}

static bool is_whole(const struct sweep *sweep, struct error *e)
{
    unsigned needs = sweep->n_ports == 1 ? S_BIT(S11) : S_ALL;

    if ((sweep->measured & needs) != needs)
        return error_set(e, ERROR_INPUT,
                         "a Touchstone file needs every parameter of its ports: use "
                         "CSV for this sweep");
    if (sweep->n_points == 0)
        return error_set(e, ERROR_INPUT, "a Touchstone file needs at least one point");
    for (size_t i = 0; i < sweep->n_points; i++) {
        for (size_t k = 0; k < parameters_of(sweep); k++) {
            double complex s = sweep->s[S_PARAMETERS * i + k];

            if (isfinite(creal(s)) && isfinite(cimag(s))) continue;
            return error_set(e, ERROR_INPUT,
                             "%s at %.0f Hz is not a finite number, which a Touchstone file cannot "
                             "hold",
                             s_parameter_name((enum s_parameter)k), sweep->frequency_hz[i]);
        }
    }
    return true;
}

static void add_point(struct text *out, const struct sweep *sweep, size_t point)
{
    text_add_number(out, sweep->frequency_hz[point]);
    for (size_t i = 0; i < parameters_of(sweep); i++) {
        double complex s = sweep->s[S_PARAMETERS * point + i];

        text_add(out, " ");
        text_add_number(out, creal(s));
        text_add(out, " ");
        text_add_number(out, cimag(s));
    }
    text_add(out, "\n");
}

bool touchstone_write(const struct sweep *sweep, const char *comment, struct text *out,
                      struct error *e)
{
    if (!is_whole(sweep, e)) return false;
    if (comment) add_comment(out, comment);
    text_addf(out, "[Version] 2.0\n# Hz S RI R 50\n[Number of Ports] %u\n", sweep->n_ports);
    if (sweep->n_ports == 2) text_add(out, "[Two-Port Data Order] 12_21\n");
    text_addf(out, "[Number of Frequencies] %zu\n[Reference]", sweep->n_points);
    for (size_t i = 0; i < sweep->n_ports; i++) {
        text_add(out, " ");
        text_add_number(out, sweep->z0_ohm[i]);
    }
    text_add(out, "\n[Network Data]\n");
    for (size_t i = 0; i < sweep->n_points; i++)
        add_point(out, sweep, i);
    text_add(out, "[End]\n");
    return text_ok(out, "a Touchstone file", e);
}
