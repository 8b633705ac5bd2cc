/* Limits and measurements for tests: limits from XML text through the real reader, sweeps from
 * functions of frequency. */
#ifndef GAINSIEVE_TESTS_FIXTURE_H
#define GAINSIEVE_TESTS_FIXTURE_H

#include <complex.h>
#include <stdlib.h>
#include <unistd.h>

#include "drivers/measurement.h"
#include "limits/limits.h"
#include "tests/check.h"

/* Writes `content` into a new file and gives its name, for unlink() and free() by the caller. */
static inline char *fixture_file(const char *content)
{
    const char *folder = getenv("TMPDIR") ? getenv("TMPDIR") : "/tmp";
    size_t room = strlen(folder) + 32;
    char *path = malloc(room);
    FILE *file;
    int fd;

    assert_non_null(path);
    (void)snprintf(path, room, "%s/gainsieve-XXXXXX", folder);
    fd = mkstemp(path);
    assert_true(fd >= 0);
    file = fdopen(fd, "w");
    assert_non_null(file);
    assert_true(fputs(content, file) >= 0);
    assert_int_equal(fclose(file), 0);
    return path;
}

/* Reads limits of three bias steps low 1.8 V, mid 2.4 V, high 3 V (10 mV), a band `working` from
 * 160 to 178 MHz with max-step 1 MHz, a spot band `centre` at 169 MHz, the given decision element
 * and limit elements. */
static inline void fixture_limits(struct limits *out, const char *decision, const char *elements)
{
    struct error e = {0};
    char xml[8192];
    char *path;

    (void)snprintf(
        xml, sizeof xml,
        "<limits xmlns=\"urn:gainsieve:limits:1\" product=\"Test\" impedance=\"50 ohm\">"
        "<bias-steps tolerance=\"10 mV\"><bias id=\"low\" at=\"1.80 V\"/>"
        "<bias id=\"mid\" at=\"2.40 V\"/><bias id=\"high\" at=\"3.00 V\"/></bias-steps>"
        "<bands><band id=\"working\" from=\"160 MHz\" to=\"178 MHz\" max-step=\"1 MHz\"/>"
        "<band id=\"centre\" at=\"169 MHz\"/></bands>%s%s</limits>",
        decision, elements);
    path = fixture_file(xml);
    assert_done(limits_read(out, path, &e), &e);
    (void)unlink(path);
    free(path);
}

/* The four parameters at a frequency and bias. */
typedef void fixture_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS]);

/* Adds a two-port sweep of `board` at a bias, `n` points from `from_hz` in steps of `step_hz`. */
static inline struct bias_sweep *fixture_sweep(struct measurement *m, fixture_board *board,
                                               double bias_v, double from_hz, double step_hz,
                                               size_t n)
{
    struct error e = {0};
    struct bias_sweep *bias = measurement_add(m, bias_v, &e);

    assert_non_null(bias);
    assert_done(sweep_reserve(&bias->sweep, n, &e), &e);
    bias->sweep.n_points = n;
    bias->sweep.n_ports = 2;
    bias->sweep.measured = S_ALL;
    bias->sweep.z0_ohm[0] = bias->sweep.z0_ohm[1] = 50;
    for (size_t i = 0; i < n; i++) {
        bias->sweep.frequency_hz[i] = from_hz + step_hz * (double)i;
        board(bias->sweep.frequency_hz[i], bias_v, &bias->sweep.s[S_PARAMETERS * i]);
    }
    return bias;
}

/* Sets one parameter of one point. */
static inline void fixture_set(struct bias_sweep *bias, size_t point, enum s_parameter parameter,
                               double complex s)
{
    bias->sweep.s[S_PARAMETERS * point + parameter] = s;
}

/* dB to a linear magnitude. */
static inline double fixture_linear(double db)
{
    return pow(10, db / 20);
}

#endif
