/* `gainsieve audit`: proves that a batch is whole and unaltered. */
#include <stdio.h>
#include <string.h>

#include "runner/audit.h"
#include "runner/commands.h"
#include "runner/options.h"
#include "runner/print.h"

/* Each line of the text, safe for a terminal. */
static void print_lines(FILE *out, const char *before, char *lines)
{
    for (char *line = lines, *end; line && (end = strchr(line, '\n')) != NULL; line = end + 1) {
        *end = '\0';
        (void)fprintf(out, "%s", before);
        print_plain(out, line);
        (void)fprintf(out, "\n");
        *end = '\n';
    }
}

static void print_result(const char *folder, struct audit *audit)
{
    print_lines(stderr, "gainsieve: ", audit->remarks.data);
    print_lines(stdout, "", audit->faults.data);
    if (audit->n_faults > CEILING_AUDIT_LINES)
        printf("... and %lu more\n", audit->n_faults - CEILING_AUDIT_LINES);
    print_plain(stdout, folder);
    if (audit->n_faults > 0)
        printf(": not whole: %lu finding%s\n", audit->n_faults, audit->n_faults == 1 ? "" : "s");
    else if (audit->is_unborn)
        printf(": whole: no entry yet\n");
    else
        printf(": whole: %zu entries, %zu attempts, %zu sweeps; the last entry has SHA-256 %s\n",
               audit->n_entries, audit->n_attempts, audit->n_sweeps, audit->end.sha256);
}

bool cmd_audit(int argc, char **argv, enum exit_status *status, struct error *e)
{
    const char *folder = NULL, *known = NULL;
    const struct option_row rows[] = {
        {"batch", "DIR", "the batch's folder (needed)", &folder, NULL},
        {"last", "SHA256", "what an earlier audit gave for the last entry: it must still be there",
         &known, NULL},
        {NULL, NULL, NULL, NULL, NULL},
    };
    const struct option_table table = {
        "audit --batch DIR [--last SHA256]",
        "Proves that a batch record is whole and unaltered: every entry, every sweep file, the\n"
        "limits and the bench file. One line for each thing that was altered, removed or added.",
        rows};
    struct audit audit = {0};
    size_t n_others;
    bool helped, ok;

    if (!options_read(&table, argc, argv, &n_others, &helped, e)) return false;
    *status = EXIT_ALL_PASS;
    if (helped) return true;
    if (!folder || n_others > 0)
        return error_set(e, ERROR_USAGE, "audit needs --batch DIR and no other path");
    if (known &&
        (strlen(known) != DIGEST_HEX - 1 || strspn(known, "0123456789abcdef") != DIGEST_HEX - 1))
        return error_set(e, ERROR_USAGE, "--last %s: write the 64 digits that an audit gave",
                         known);
    ok = audit_batch(folder, known, &audit, e);
    if (ok) {
        print_result(folder, &audit);
        if (audit.n_faults > 0) *status = EXIT_NOT_ALL_PASS;
    }
    audit_clear(&audit);
    return ok;
}
