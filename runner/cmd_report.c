/* `gainsieve report`: writes the reports of a batch again, from its record. */
#include "runner/batch_check.h"
#include "runner/commands.h"
#include "runner/options.h"
#include "runner/report_write.h"

bool cmd_report(int argc, char **argv, enum exit_status *status, struct error *e)
{
    const char *folder = NULL, *unit_pages = NULL, *jobs = NULL;
    const struct option_row rows[] = {
        {"batch", "DIR", "the batch's folder (needed); the reports go there", &folder, NULL},
        {"unit-pages", "WHICH", "pages of single units: all (default), failed or none", &unit_pages,
         NULL},
        {"jobs", "N", "threads (default: one a core)", &jobs, NULL},
        {NULL, NULL, NULL, NULL, NULL},
    };
    const struct option_table table = {
        "report --batch DIR [--unit-pages WHICH] [--jobs N]",
        "Writes units.csv, results.csv, index.csv, report.html and units/ of a batch again, from\n"
        "its record. Every attempt is judged anew and must get the verdict of its night.",
        rows};
    struct batch_check batch = {.with_index = true};
    size_t n_others;
    bool helped, all_pass;

    if (!options_read(&table, argc, argv, &n_others, &helped, e)) return false;
    *status = EXIT_ALL_PASS;
    if (helped) return true;
    if (!folder || n_others > 0)
        return error_set(e, ERROR_USAGE, "report needs --batch DIR and no other path");
    if (!report_read_jobs(jobs, &batch.jobs, e)) return false;
    if (!report_read_pages(unit_pages, &batch.unit_pages, e)) return false;
    batch.folder = batch.out = folder;
    return batch_check_run(&batch, &all_pass, e);
}
