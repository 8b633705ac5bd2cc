#include "drivers/nodal.h"

#include <assert.h>
#include <float.h>

static_assert(FLT_EVAL_METHOD == 0,
              "same results everywhere need double arithmetic without excess");

struct nodal_value nodal_add(struct nodal_value a, struct nodal_value b)
{
    return (struct nodal_value){a.re + b.re, a.im + b.im};
}

struct nodal_value nodal_multiply(struct nodal_value a, struct nodal_value b)
{
    return (struct nodal_value){a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re};
}

struct nodal_value nodal_invert(struct nodal_value a)
{
    double size = a.re * a.re + a.im * a.im;

    return (struct nodal_value){a.re / size, -a.im / size};
}

void nodal_begin(struct nodal *network, unsigned n_nodes)
{
    assert(n_nodes >= 2 && n_nodes <= NODAL_NODES);
    *network = (struct nodal){.n_nodes = n_nodes};
}

/* Adds to one place of the matrix; ground has no row and no column. */
static void stamp(struct nodal *network, unsigned row, unsigned column, double sign,
                  struct nodal_value siemens)
{
    if (row == NODAL_GROUND || column == NODAL_GROUND) return;
    network->re[row][column] += sign * siemens.re;
    network->im[row][column] += sign * siemens.im;
}

void nodal_admittance(struct nodal *network, unsigned a, unsigned b, struct nodal_value siemens)
{
    stamp(network, a, a, 1, siemens);
    stamp(network, b, b, 1, siemens);
    stamp(network, a, b, -1, siemens);
    stamp(network, b, a, -1, siemens);
}

void nodal_impedance(struct nodal *network, unsigned a, unsigned b, struct nodal_value ohm)
{
    nodal_admittance(network, a, b, nodal_invert(ohm));
}

void nodal_transconductance(struct nodal *network, unsigned from, unsigned to, unsigned plus,
                            unsigned minus, double siemens)
{
    struct nodal_value gm = {siemens, 0};

    stamp(network, from, plus, 1, gm);
    stamp(network, from, minus, -1, gm);
    stamp(network, to, plus, -1, gm);
    stamp(network, to, minus, 1, gm);
}

/* Two columns beside the matrix, one for each port: currents at first, node voltages at the end. */
struct columns {
    double re[NODAL_NODES][2], im[NODAL_NODES][2];
};

static void swap(double *a, double *b, unsigned n)
{
    for (unsigned k = 0; k < n; k++) {
        double kept = a[k];

        a[k] = b[k];
        b[k] = kept;
    }
}

/* Brings the largest value of the column, from the diagonal down, to the diagonal. */
static bool choose_pivot(struct nodal *network, struct columns *v, unsigned column)
{
    unsigned best = column;
    double largest = 0;

    for (unsigned row = column; row < network->n_nodes; row++) {
        double re = network->re[row][column], im = network->im[row][column];
        double size = re * re + im * im;

        if (size > largest) {
            largest = size;
            best = row;
        }
    }
    if (!(largest > 0) || largest > DBL_MAX) return false;
    if (best == column) return true;
    swap(network->re[column], network->re[best], network->n_nodes);
    swap(network->im[column], network->im[best], network->n_nodes);
    swap(v->re[column], v->re[best], 2);
    swap(v->im[column], v->im[best], 2);
    return true;
}

/* Subtracts `factor` times `n` values of one row from those of another. */
static void subtract_row(double *re, double *im, struct nodal_value factor, const double *from_re,
                         const double *from_im, unsigned n)
{
    for (unsigned k = 0; k < n; k++) {
        re[k] -= factor.re * from_re[k] - factor.im * from_im[k];
        im[k] -= factor.re * from_im[k] + factor.im * from_re[k];
    }
}

static void eliminate(struct nodal *network, struct columns *v, unsigned column)
{
    const struct nodal_value inverse = nodal_invert(
        (struct nodal_value){network->re[column][column], network->im[column][column]});
    const unsigned after = column + 1;

    for (unsigned row = after; row < network->n_nodes; row++) {
        struct nodal_value factor = {network->re[row][column], network->im[row][column]};

        if (factor.re == 0 && factor.im == 0) continue;
        factor = nodal_multiply(factor, inverse);
        subtract_row(&network->re[row][after], &network->im[row][after], factor,
                     &network->re[column][after], &network->im[column][after],
                     network->n_nodes - after);
        subtract_row(v->re[row], v->im[row], factor, v->re[column], v->im[column], 2);
    }
}

static void substitute(const struct nodal *network, struct columns *v, unsigned row)
{
    const struct nodal_value inverse =
        nodal_invert((struct nodal_value){network->re[row][row], network->im[row][row]});

    for (unsigned k = row + 1; k < network->n_nodes; k++) {
        const struct nodal_value factor = {network->re[row][k], network->im[row][k]};

        subtract_row(v->re[row], v->im[row], factor, v->re[k], v->im[k], 2);
    }
    for (unsigned port = 0; port < 2; port++) {
        struct nodal_value x =
            nodal_multiply((struct nodal_value){v->re[row][port], v->im[row][port]}, inverse);

        v->re[row][port] = x.re;
        v->im[row][port] = x.im;
    }
}

static bool solve(struct nodal *network, struct columns *v)
{
    for (unsigned column = 0; column < network->n_nodes; column++) {
        if (!choose_pivot(network, v, column)) return false;
        eliminate(network, v, column);
    }
    for (unsigned row = network->n_nodes; row-- > 0;)
        substitute(network, v, row);
    return true;
}

bool nodal_two_port(struct nodal *network, unsigned in, unsigned out, double z0_ohm,
                    struct nodal_value s[4])
{
    const struct nodal_value port = {1 / z0_ohm, 0};
    struct columns v = {0};

    assert(in < network->n_nodes && out < network->n_nodes && in != out);
    nodal_admittance(network, in, NODAL_GROUND, port);
    nodal_admittance(network, out, NODAL_GROUND, port);
    /* A source of 2 V behind z0 sends a wave of 1 V: the far port's voltage is the transmission,
     * the near one's is one more than the reflection. */
    v.re[in][0] = 2 / z0_ohm;
    v.re[out][1] = 2 / z0_ohm;
    if (!solve(network, &v)) return false;
    s[0] = (struct nodal_value){v.re[in][0] - 1, v.im[in][0]};
    s[1] = (struct nodal_value){v.re[in][1], v.im[in][1]};
    s[2] = (struct nodal_value){v.re[out][0], v.im[out][0]};
    s[3] = (struct nodal_value){v.re[out][1] - 1, v.im[out][1]};
    return true;
}
