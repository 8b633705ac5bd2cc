/* The reports of a job, and its summary on the screen. */
#ifndef GAINSIEVE_REPORT_WRITE_H
#define GAINSIEVE_REPORT_WRITE_H

#include "runner/check_job.h"
#include "runner/report_folder.h"

struct report_words {
    const char *source; /* what was judged: paths as the user gave them */
    const char *notes;  /* what was not, and why; "" when everything was */
};

/* Reads the words of --jobs and --unit-pages; NULL is what is usual: a thread a core, all pages. */
bool report_read_jobs(const char *words, unsigned long *jobs, struct error *e) MUST_CHECK;
bool report_read_pages(const char *words, enum unit_pages *out, struct error *e) MUST_CHECK;

/* Writes `content` as FOLDER/NAME, on the disk when this returns. */
bool report_write_file(const char *folder, const char *name, const struct text *content,
                       struct error *e) MUST_CHECK;
/* Writes units.csv, results.csv and report.html into `folder`, then moves the unit pages in: from
 * there on the new report stands. The job has run. */
bool report_write(const struct check_job *job, const char *folder, struct report_folder *pages,
                  const struct report_words *words, const struct batch_yield *yield,
                  struct error *e) MUST_CHECK;

/* Prints the units that are not PASS, counts and yield. `out` is where the reports are, or NULL. */
void report_print_summary(const struct check_job *job, const char *out,
                          const struct batch_yield *yield);
/* Prints one line of words on standard error, unless they are empty. */
void report_print_notes(const char *notes);

#endif
