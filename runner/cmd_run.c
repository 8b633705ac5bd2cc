/* `gainsieve run`: tests a batch at the bench. */
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/value.h"
#include "runner/commands.h"
#include "runner/emulated_bench.h"
#include "runner/options.h"
#include "runner/print.h"
#include "runner/progress.h"
#include "runner/session.h"

struct run_options {
    const char *limits, *bench, *batch, *operator_name, *reason;
    bool rehearse;
};

/* What a run holds open, in the order in which it is opened. */
struct run {
    struct bench_file file;
    struct emulated_bench emulated;
    struct guardian guardian;
    struct record *record;
    struct screen screen;
    struct bench bench;
    struct session session;
};

static bool read_options(struct run_options *o, int argc, char **argv, bool *helped,
                         struct error *e)
{
    const struct option_row rows[] = {
        {"limits", "FILE", "the limits file (needed)", &o->limits, NULL},
        {"bench", "FILE", "the bench file (needed)", &o->bench, NULL},
        {"batch", "DIR", "the batch's folder: made, or gone on with (needed, but for a rehearsal)",
         &o->batch, NULL},
        {"operator", "NAME", "who tests", &o->operator_name, NULL},
        {"reason", "WORDS", "why limits or bench differ from those of the batch", &o->reason, NULL},
        {"rehearse", NULL, "show every message of a test and send none of them", NULL,
         &o->rehearse},
        {NULL, NULL, NULL, NULL, NULL},
    };
    const struct option_table table = {
        "run --limits FILE --bench FILE --batch DIR [--operator NAME] [--reason WORDS]\n"
        "       gainsieve run --rehearse --limits FILE --bench FILE",
        "Tests boards at the bench: scan or type a serial number, connect the board, read PASS or "
        "FAIL.\nSerial numbers come from the keyboard, a scanner or standard input, one a line.\n"
        "Powered RF boards can hurt people and equipment: read docs/safety.md first.",
        rows};
    size_t n_others;

    if (!options_read(&table, argc, argv, &n_others, helped, e)) return false;
    if (*helped) return true;
    if (n_others > 0 || !o->limits || !o->bench || (!o->batch && !o->rehearse))
        return error_set(
            e, ERROR_USAGE,
            "run needs --limits FILE, --bench FILE and --batch DIR, and no other path");
    return true;
}

/* ---- rehearsal ---- */

static void print_message(const char *who, const char *bytes, size_t n)
{
    printf("%-8s > %.*s\n", who, (int)strcspn(bytes, "\r\n"), n > 0 ? bytes : "");
}

static void print_doing(void *context, const struct bench_doing *doing)
{
    (void)context;
    printf("-- %s\n", doing->words);
}

static bool print_ask(void *context, double bias_v, double *current_ma, struct error *e)
{
    char volts[VALUE_TEXT];

    (void)context, (void)e;
    *current_ma = NAN;
    if (bias_v > 0)
        printf("operator   sets the bias to %s by hand and confirms\n",
               value_rounded(bias_v, UNIT_V, volts));
    else
        printf("operator   switches the bias off by hand and confirms\n");
    return true;
}

static bool rehearse(const struct bench_file *file, const struct run_options *o, struct error *e)
{
    struct limits limits = {0};
    struct measurement measured = {0};
    struct text words = {0};
    struct bench bench = {.file = file, .limits = &limits, .heard = print_message};
    bool ok;

    bench.watcher = (struct bench_watcher){print_doing, print_ask, NULL};
    if (bench_port_is(&file->analyser, "folder"))
        return error_set(e, ERROR_USAGE,
                         "%s: sweeps come from a folder: there is nothing to rehearse", file->path);
    if (!limits_read(&limits, o->limits, e)) return false;
    printf("A rehearsal: nothing is sent and nothing switched on.\n-- opening\n");
    ok = bench_open(&bench, e);
    if (ok) {
        safety_words(&bench.levels, &words);
        printf("-- levels\n%s-- one board\n", text_words(&words));
        ok = bench_measure(&bench, "REHEARSAL", &measured, e);
    }
    bench_close(&bench);
    measurement_clear(&measured);
    text_clear(&words);
    limits_clear(&limits);
    return ok;
}

/* ---- the real thing ---- */

static bool ask_bias(void *context, double bias_v, double *current_ma, struct error *e)
{
    return session_ask_bias(context, bias_v, current_ma, e);
}

static bool open_run(struct run *run, const struct run_options *o, struct error *e)
{
    const struct record_request request = {o->batch, o->limits, o->bench, o->operator_name,
                                           o->reason};

    /* The two processes first: they must hold nothing of what is opened afterwards. */
    if (!emulated_bench_start(&run->emulated, &run->file, e) ||
        !guardian_start(&run->guardian, e) || !record_open(&run->record, &request, e) ||
        !screen_open(&run->screen, colour_wanted(), e))
        return false;
    run->bench = (struct bench){.file = &run->file,
                                .limits = record_limits(run->record),
                                .guardian = &run->guardian,
                                .watcher = {.ask = ask_bias, .context = &run->session}};
    run->session.file = &run->file;
    run->session.bench = &run->bench;
    run->session.record = run->record;
    run->session.screen = &run->screen;
    run->session.batch = o->batch;
    run->session.operator_name = o->operator_name;
    return true;
}

/* Off and closed, whatever happened; what cannot be confirmed off outranks every other error. */
static bool close_run(struct run *run, bool ok, struct error *e)
{
    struct error off = {0}, folded = {0}, first;
    bool is_off;

    if (run->bench.is_open && !run->bench.is_off) (void)!bench_quiet(&run->bench, &off);
    bench_close(&run->bench);
    /* Also when it could not be switched off before, and was closed since. */
    is_off = !run->bench.may_be_on;
    screen_close(&run->screen);
    session_clear(&run->session);
    guardian_end(&run->guardian, run->bench.is_off);
    emulated_bench_end(&run->emulated);
    /* Nothing is lost then, and no verdict is worse: a word will do. */
    if (!record_close(run->record, &folded)) {
        (void)fprintf(stderr, "gainsieve: ");
        print_plain(stderr, folded.text);
        (void)fprintf(stderr, "\n");
    }
    if (is_off) return ok;
    first = *e;
    *e = (struct error){0};
    if (strstr(first.text, off.text)) off.text[0] = '\0';
    return error_set(e, ERROR_BENCH,
                     "the board may still be POWERED: switch the supply off by hand before you "
                     "touch it. %s%s%s",
                     off.text, off.text[0] && first.text[0] ? " " : "", first.text);
}

static void print_counts(const struct run_options *o, const struct screen_view *view)
{
    printf("%zu units: %zu PASS, %zu FAIL, %zu INCOMPLETE\n", view->n_units, view->n_pass,
           view->n_fail, view->n_incomplete);
    printf("Reports: gainsieve report --batch ");
    print_plain(stdout, o->batch);
    printf("\n");
}

/* A unit whose attempts were all marked as wrongly connected is in no count, and has not passed. */
static bool find_only_marked(struct record *record, bool *any, struct error *e)
{
    struct record_units units = {0};
    struct record_unit unit = {0};
    char serial[CEILING_SERIAL + 1] = "";
    bool more = true, counts = true;
    bool ok = record_units_begin(&units, record_reader_of(record), e);

    *any = false;
    while (ok && more) {
        ok = record_units_next(&units, &unit, &more, e);
        if (ok && (!more || strcmp(serial, unit.serial) != 0)) {
            *any = *any || !counts;
            counts = !more;
            memcpy(serial, unit.serial, sizeof serial);
        }
        if (ok && more) counts = counts || !unit.wrongly_connected;
        record_unit_clear(&unit);
    }
    record_units_end(&units);
    return ok;
}

static bool run_batch(const struct run_options *o, struct run *run, enum exit_status *status,
                      struct error *e)
{
    struct screen_view counts = {0};
    bool only_marked = false;
    bool ok = open_run(run, o, e) && session_run(&run->session, e) &&
              find_only_marked(run->record, &only_marked, e);

    counts = run->session.view;
    if (!ok && e->kind == ERROR_STOPPED)
        (void)snprintf(
            e->text, sizeof e->text,
            "stopped: every verdict that was shown is in the record; run the same command "
            "again to go on");
    ok = close_run(run, ok, e);
    if (!ok) return false;
    print_counts(o, &counts);
    *status = counts.n_units > 0 && counts.n_pass == counts.n_units && !only_marked
                  ? EXIT_ALL_PASS
                  : EXIT_NOT_ALL_PASS;
    return true;
}

bool cmd_run(int argc, char **argv, enum exit_status *status, struct error *e)
{
    struct run_options options = {0};
    static struct run run;
    bool helped, ok;

    *status = EXIT_ALL_PASS;
    if (!read_options(&options, argc, argv, &helped, e)) return false;
    if (helped) return true;
    if (!bench_file_read(&run.file, options.bench, e)) return false;
    /* A suspended program cannot watch the current. */
    (void)signal(SIGTSTP, SIG_IGN);
    ok = options.rehearse ? rehearse(&run.file, &options, e) : run_batch(&options, &run, status, e);
    bench_file_clear(&run.file);
    return ok;
}
