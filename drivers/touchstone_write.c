#include "drivers/touchstone.h"

/* Comment text without line ends, which would end the comment. */
static void add_comment(struct text *out, const char *comment)
{
    text_add(out, "! ");
    for (; *comment; comment++)
        text_add_bytes(out, *comment == '\n' || *comment == '\r' ? " " : comment, 1);
    text_add(out, "\n");
}

static void add_point(struct text *out, const struct sweep *sweep, size_t point)
{
    size_t n = sweep->n_ports == 1 ? 1 : S_PARAMETERS;

    text_add_number(out, sweep->frequency_hz[point]);
    for (size_t i = 0; i < n; i++) {
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
    unsigned needs = sweep->n_ports == 1 ? S_BIT(S11) : S_ALL;

    if ((sweep->measured & needs) != needs || sweep->n_points == 0)
        return error_set(e, ERROR_INPUT,
                         "a Touchstone file needs every parameter of its ports: use "
                         "CSV for this sweep");
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
