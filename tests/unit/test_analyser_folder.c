#include <sys/stat.h>

#include "drivers/analyser.h"
#include "tests/bench_served.h"

#define POINTS 5

/* A folder that a thread saves into while a sweep is waited for. */
struct place {
    char folder[64];
    struct bench_file file;
    struct analyser a;
    struct sweep sweep;
    struct bias_name names[2];
};

static void begin_as(struct place *p, const char *layout)
{
    struct error e = {0};
    char port[96];

    *p = (struct place){.names = {{"low", 1.8}, {"mid", 2.4}}};
    (void)snprintf(p->folder, sizeof p->folder, "/tmp/gainsieve-folder-XXXXXX");
    assert_non_null(mkdtemp(p->folder));
    bench_served_file(&p->file, NULL);
    (void)snprintf(port, sizeof port, "folder:%s", p->folder);
    bench_file_port(&p->file.analyser.port, port);
    bench_file_port(&p->file.layout, layout);
    p->file.sweep.points = POINTS;
    p->file.bias.longest_s = 2;
    assert_done(analyser_open(&p->a, &p->file, S_BIT(S21), &e), &e);
    p->a.biases = (struct bias_names){p->names, 2, 0.01};
    p->a.serial = "KW000101";
    p->a.step = 1;
}

static void end(struct place *p)
{
    char command[128];

    analyser_close(&p->a);
    sweep_clear(&p->sweep);
    bench_file_clear(&p->file);
    (void)snprintf(command, sizeof command, "rm -r '%s'", p->folder);
    assert_int_equal(system(command), 0);
}

/* What the other side does with the folder, later. */
struct saver {
    pthread_t thread;
    const struct place *place;
    void (*script)(const struct place *);
};

static void *run_saver(void *context)
{
    const struct saver *s = context;

    peer_sleep(0.1);
    s->script(s->place);
    return NULL;
}

/* A line of a two-port file for the point; `level` tells sweeps apart. */
static void add_point(FILE *file, unsigned k, double level)
{
    const unsigned mhz = 150 + 10 * k;

    (void)fprintf(file, "%u 0.1 %g %g 0.5 0.001 %g 0.1 %g\n", mhz, level / 100, level, level / 1e4,
                  level / 50);
}

/* Points `from` to before `to`; the head with the first. */
static void save_part(const struct place *p, const char *name, double level, unsigned from,
                      unsigned to)
{
    char path[160];
    FILE *file;

    (void)snprintf(path, sizeof path, "%s/%s", p->folder, name);
    file = fopen(path, from == 0 ? "w" : "a");
    assert_non_null(file);
    if (from == 0) (void)fprintf(file, "# MHz S RI R 50\n");
    for (unsigned k = from; k < to; k++)
        add_point(file, k, level);
    assert_int_equal(fclose(file), 0);
}

static void save(const struct place *p, const char *name, double level)
{
    save_part(p, name, level, 0, POINTS);
}

/* Measures while the script runs; how long it took goes to `took_s`. */
static bool measure(struct place *p, void (*script)(const struct place *), double *took_s,
                    struct error *e)
{
    struct saver saver = {.place = p, .script = script};
    const double begun_s = peer_now_s();
    bool ok;

    assert_int_equal(pthread_create(&saver.thread, NULL, run_saver, &saver), 0);
    ok = p->a.kind->measure(&p->a, &p->sweep, e);
    *took_s = peer_now_s() - begun_s;
    assert_int_equal(pthread_join(saver.thread, NULL), 0);
    return ok;
}

static double level(const struct place *p)
{
    return creal(sweep_s(&p->sweep, 0, S21));
}

static void save_wanted(const struct place *p)
{
    save(p, "KW000101_mid.s2p", 7);
}

/* Says who it is, switches nothing, and takes the file that is saved after it was asked for. */
static void test_takes_new_file(void **state)
{
    struct error e = {0};
    struct place p;
    double took_s;

    (void)state;
    begin_as(&p, NULL);
    assert_done(p.a.kind->identify(&p.a, &e), &e);
    assert_holds(text_words(&p.a.identity), p.folder);
    assert_done(p.a.kind->arrange(&p.a, &e), &e);
    assert_done(p.a.kind->quiet(&p.a, &e), &e);
    assert_done(measure(&p, save_wanted, &took_s, &e), &e);
    assert_int_equal(p.sweep.n_points, POINTS);
    assert_close(level(&p), 7, 0);
    assert_true(took_s < 1);
    assert_done(p.a.kind->quiet(&p.a, &e), &e);
    end(&p);
}

static void do_nothing(const struct place *p)
{
    (void)p;
}

/* A file that was there before, or was saved before it was asked for, is another board's. */
static void test_old_file(void **state)
{
    struct error e = {0};
    struct place p;
    double took_s;

    (void)state;
    begin_as(&p, NULL);
    p.file.bias.longest_s = 0.6;
    save(&p, "KW000101_mid.s2p", 3);
    assert_false(measure(&p, do_nothing, &took_s, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, "no whole sweep of KW000101 at bias \"mid\"");
    assert_int_equal(p.sweep.n_points, 0);
    assert_true(took_s >= 0.6 && took_s < 0.6 + PEER_LATE_S);
    end(&p);
}

static void save_by_and_by(const struct place *p)
{
    save_part(p, "KW000101_mid.s2p", 7, 0, 2);
    peer_sleep(0.5); /* longer than a file must be quiet */
    save_part(p, "KW000101_mid.s2p", 7, 2, 4);
    peer_sleep(0.1);
    save_part(p, "KW000101_mid.s2p", 7, 4, POINTS);
}

/* Half a file that can be read is a shorter sweep, and not the one that was asked for. */
static void test_half_written(void **state)
{
    struct error e = {0};
    struct place p;
    double took_s;

    (void)state;
    begin_as(&p, NULL);
    assert_done(measure(&p, save_by_and_by, &took_s, &e), &e);
    assert_int_equal(p.sweep.n_points, POINTS);
    end(&p);
}

static void save_slowly(const struct place *p)
{
    char path[160];
    FILE *file;

    (void)snprintf(path, sizeof path, "%s/KW000101_mid.s2p", p->folder);
    (void)fclose(fopen(path, "w")); /* reserved, and opened again */
    file = fopen(path, "a");
    assert_non_null(file);
    (void)fprintf(file, "# MHz S RI R 50\n");
    for (unsigned k = 0; k < POINTS; k++) {
        add_point(file, k, 7);
        (void)fflush(file);
        peer_sleep(0.1);
    }
    (void)fprintf(file, "! the end\n");
    assert_int_equal(fclose(file), 0);
}

/* A file that is open again is not read before it is closed. */
static void test_reopened(void **state)
{
    struct error e = {0};
    struct place p;
    double took_s;

    (void)state;
    begin_as(&p, NULL);
    assert_done(measure(&p, save_slowly, &took_s, &e), &e);
    assert_int_equal(p.sweep.n_points, POINTS);
    assert_true(took_s > 0.1 + 0.5 + 0.25);
    end(&p);
}

static void save_renamed(const struct place *p)
{
    char from[160], to[160];

    save(p, ".part.s2p", 7);
    save(p, "notes.txt", 3);
    (void)snprintf(from, sizeof from, "%s/.part.s2p", p->folder);
    (void)snprintf(to, sizeof to, "%s/KW000101_mid.s2p", p->folder);
    assert_int_equal(rename(from, to), 0);
}

/* Names with a dot and other kinds of files are not sweeps; one that gets its name at the end is.
 */
static void test_renamed(void **state)
{
    struct error e = {0};
    struct place p;
    double took_s;

    (void)state;
    begin_as(&p, NULL);
    assert_done(measure(&p, save_renamed, &took_s, &e), &e);
    assert_close(level(&p), 7, 0);
    end(&p);
}

static void save_others_first(const struct place *p)
{
    save(p, "KW000102_mid.s2p", 1); /* another board */
    save(p, "KW000101_low.s2p", 2); /* another bias */
    save(p, "KW0001010_mid.s2p", 3);
    save(p, "whatever.s2p", 4);
    peer_sleep(0.5);
    save(p, "KW000101_mid.s2p", 7);
}

/* With a layout, other boards and other biases are passed over. */
static void test_layout(void **state)
{
    struct error e = {0};
    struct place p;
    double took_s;

    (void)state;
    begin_as(&p, "{serial}_{bias}.s2p");
    assert_done(measure(&p, save_others_first, &took_s, &e), &e);
    assert_close(level(&p), 7, 0);
    assert_true(took_s > 0.5);
    end(&p);
}

static void save_others(const struct place *p)
{
    save(p, "KW000102_mid.s2p", 1);
    save(p, "KW000101_low.s2p", 2);
}

static void test_layout_only_others(void **state)
{
    struct error e = {0};
    struct place p;
    double took_s;

    (void)state;
    begin_as(&p, "{serial}_{bias}.s2p");
    p.file.bias.longest_s = 0.8;
    assert_false(measure(&p, save_others, &took_s, &e));
    assert_int_equal(p.sweep.n_points, 0);
    end(&p);
}

static void save_broken(const struct place *p)
{
    char path[160];
    FILE *file;

    (void)snprintf(path, sizeof path, "%s/KW000101_mid.s2p", p->folder);
    file = fopen(path, "w");
    assert_non_null(file);
    (void)fprintf(file, "# MHz S RI R 50\n150 0.1 zero 0 0 0 0 0 0\n");
    assert_int_equal(fclose(file), 0);
}

/* What was wrong with the last file is told when none that is right comes. */
static void test_broken(void **state)
{
    struct error e = {0};
    struct place p;
    double took_s;

    (void)state;
    begin_as(&p, NULL);
    p.file.bias.longest_s = 0.8;
    assert_false(measure(&p, save_broken, &took_s, &e));
    assert_holds(e.text, "the last file: ");
    assert_holds(e.text, "KW000101_mid.s2p:2");
    assert_int_equal(p.sweep.n_points, 0);
    end(&p);
}

static void save_other_span(const struct place *p)
{
    char path[160];
    FILE *file;

    (void)snprintf(path, sizeof path, "%s/KW000101_mid.s2p", p->folder);
    file = fopen(path, "w");
    assert_non_null(file);
    (void)fprintf(file, "# MHz S RI R 50\n");
    for (unsigned k = 0; k < POINTS; k++)
        add_point(file, k + 1, 7);
    assert_int_equal(fclose(file), 0);
}

/* As many points, elsewhere. */
static void test_other_span(void **state)
{
    struct error e = {0};
    struct place p;
    double took_s;

    (void)state;
    begin_as(&p, NULL);
    p.file.bias.longest_s = 0.8;
    assert_false(measure(&p, save_other_span, &took_s, &e));
    assert_holds(e.text, "150 MHz");
    end(&p);
}

static void save_same_again(const struct place *p)
{
    save(p, "again.s2p", 7);
    peer_sleep(0.5);
    save(p, "new.s2p", 8);
}

/* The file of the step before, written once more, is no new sweep. */
static void test_same_again(void **state)
{
    struct error e = {0};
    struct place p;
    double took_s;

    (void)state;
    begin_as(&p, NULL);
    assert_done(measure(&p, save_wanted, &took_s, &e), &e);
    assert_done(measure(&p, save_same_again, &took_s, &e), &e);
    assert_close(level(&p), 8, 0);
    end(&p);
}

static volatile bool chatters;

static void chatter(const struct place *p)
{
    while (chatters)
        save(p, "log.txt", 1);
}

/* A folder in which something is always written does not put off the deadline. */
static void test_deadline_in_a_busy_folder(void **state)
{
    struct saver saver;
    struct error e = {0};
    struct place p;
    double begun_s;

    (void)state;
    begin_as(&p, NULL);
    p.file.bias.longest_s = 0.5;
    chatters = true;
    saver = (struct saver){.place = &p, .script = chatter};
    assert_int_equal(pthread_create(&saver.thread, NULL, run_saver, &saver), 0);
    (void)alarm(30);
    begun_s = peer_now_s();
    assert_false(p.a.kind->measure(&p.a, &p.sweep, &e));
    assert_true(peer_now_s() - begun_s < 0.5 + PEER_LATE_S);
    (void)alarm(0);
    chatters = false;
    assert_int_equal(pthread_join(saver.thread, NULL), 0);
    end(&p);
}

static void save_and_chatter(const struct place *p)
{
    save(p, "KW000101_mid.s2p", 7);
    chatter(p);
}

/* ... nor the sweep that came. */
static void test_busy_folder(void **state)
{
    struct saver saver;
    struct error e = {0};
    struct place p;
    double begun_s;

    (void)state;
    begin_as(&p, NULL);
    p.file.bias.longest_s = 5;
    chatters = true;
    saver = (struct saver){.place = &p, .script = save_and_chatter};
    assert_int_equal(pthread_create(&saver.thread, NULL, run_saver, &saver), 0);
    begun_s = peer_now_s();
    assert_done(p.a.kind->measure(&p.a, &p.sweep, &e), &e);
    assert_true(peer_now_s() - begun_s < 2);
    chatters = false;
    assert_int_equal(pthread_join(saver.thread, NULL), 0);
    end(&p);
}

static struct place stopping;

static bool stop_waiting(void)
{
    struct error e = {0};

    stopping.file.bias.longest_s = 30;
    return !stopping.a.kind->measure(&stopping.a, &stopping.sweep, &e) && e.kind == ERROR_STOPPED &&
           stopping.sweep.n_points == 0;
}

static void test_stop(void **state)
{
    (void)state;
    begin_as(&stopping, NULL);
    peer_stop_within(stop_waiting);
    end(&stopping);
}

/* A folder that is not there, a file in its place; no descriptor is left. */
static void test_open_fails(void **state)
{
    struct bench_file file = {0};
    struct analyser a = {0};
    int before, after;

    (void)state;
    bench_served_file(&file, NULL);
    before = dup(0);
    (void)close(before);
    for (unsigned k = 0; k < 2; k++) {
        struct error e = {0};

        bench_file_port(&file.analyser.port,
                        k ? "folder:docs/demo/bench.xml" : "folder:/tmp/gainsieve-none");
        assert_false(analyser_open(&a, &file, S_ALL, &e));
        assert_int_equal(e.kind, ERROR_BENCH);
        assert_holds(e.text, "cannot be watched");
        analyser_close(&a);
        analyser_close(&a);
    }
    after = dup(0);
    (void)close(after);
    assert_int_equal(before, after);
    bench_file_clear(&file);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_takes_new_file),
        cmocka_unit_test(test_old_file),
        cmocka_unit_test(test_half_written),
        cmocka_unit_test(test_reopened),
        cmocka_unit_test(test_renamed),
        cmocka_unit_test(test_layout),
        cmocka_unit_test(test_layout_only_others),
        cmocka_unit_test(test_broken),
        cmocka_unit_test(test_other_span),
        cmocka_unit_test(test_same_again),
        cmocka_unit_test(test_deadline_in_a_busy_folder),
        cmocka_unit_test(test_busy_folder),
        cmocka_unit_test(test_stop),
        cmocka_unit_test(test_open_fails),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
