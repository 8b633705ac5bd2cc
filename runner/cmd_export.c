/* `gainsieve export`: any readable sweep as CSV or Touchstone, on standard output. */
#include <stdio.h>
#include <string.h>

#include "drivers/network.h"
#include "drivers/sweep_csv.h"
#include "drivers/sweep_file.h"
#include "drivers/touchstone.h"
#include "runner/commands.h"
#include "runner/options.h"

static bool write_sweep(struct sweep *sweep, const char *path, bool as_csv, struct text *out,
                        struct error *e)
{
    struct error inner = {0};
    bool ok = true;

    if (as_csv) {
        if (sweep->z0_ohm[0] != SWEEP_CSV_Z0_OHM || sweep->z0_ohm[1] != SWEEP_CSV_Z0_OHM)
            (void)fprintf(stderr, "gainsieve: %s: brought to %g ohm, which CSV sweeps refer to\n",
                          path, SWEEP_CSV_Z0_OHM);
        ok = network_renormalise(sweep, SWEEP_CSV_Z0_OHM, &inner);
        if (ok) sweep_csv_write(sweep, out);
    } else {
        ok = touchstone_write(sweep, NULL, out, &inner);
    }
    if (!ok) return error_set(e, inner.kind, "%s: %s", path, inner.text);
    return text_ok(out, path, e);
}

bool cmd_export(int argc, char **argv, enum exit_status *status, struct error *e)
{
    const char *format = NULL;
    const struct option_row rows[] = {
        {"format", "csv|s2p", "what to write: csv (default) or s2p, Touchstone 2.0", &format, NULL},
        {NULL, NULL, NULL, NULL, NULL},
    };
    const struct option_table table = {"export [--format csv|s2p] FILE",
                                       "Writes any sweep file that can be read on standard output.",
                                       rows};
    struct text bytes = {0}, out = {0};
    struct sweep sweep = {0};
    size_t n_paths;
    bool helped, ok;

    if (!options_read(&table, argc, argv, &n_paths, &helped, e)) return false;
    *status = EXIT_ALL_PASS;
    if (helped) return true;
    if (n_paths != 1) return error_set(e, ERROR_USAGE, "export needs one sweep file");
    if (format && strcmp(format, "csv") != 0 && strcmp(format, "s2p") != 0)
        return error_set(e, ERROR_USAGE, "--format %s: write csv or s2p", format);
    ok = sweep_file_read(argv[1], &bytes, &sweep, e) &&
         write_sweep(&sweep, argv[1], !format || strcmp(format, "csv") == 0, &out, e);
    if (ok) (void)fwrite(text_words(&out), 1, out.length, stdout);
    sweep_clear(&sweep);
    text_clear(&bytes);
    text_clear(&out);
    return ok;
}
