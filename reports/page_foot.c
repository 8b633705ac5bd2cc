#include "reports/page_foot.h"

#include "drivers/base/value.h"

/* "1.8 V" and the digest of the file, or that there is none. */
static void write_sweep(struct html *h, const struct bias_sweep *bias)
{
    char volts[VALUE_TEXT];

    html_open(h, "li");
    html_textf(h, "%s ", value_words(bias->bias_v, UNIT_V, volts));
    if (bias->sha256[0])
        html_element(h, "code", NULL, bias->sha256);
    else
        html_text(h, "could not be read");
    html_close(h);
}

static void write_reference(struct html *h, const struct measurement *reference)
{
    html_open(h, "p");
    html_textf(h, "Reference unit of the phase limits: %s, attempt %lu. SHA-256 of its sweeps:",
               reference->serial, reference->attempt);
    html_close(h);
    html_open(h, "ul");
    for (size_t i = 0; i < reference->n_biases; i++)
        write_sweep(h, &reference->biases[i]);
    if (reference->n_biases == 0) html_element(h, "li", NULL, "no sweep");
    html_close(h);
}

void page_foot_write(struct html *h, const struct measurement *reference)
{
    html_open(h, "footer");
    if (reference) write_reference(h, reference);
    html_element(h, "p", NULL, "Written by gainsieve " GAINSIEVE_VERSION ".");
    html_close(h);
}
