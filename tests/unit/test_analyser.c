/* The contract of analyser.h, for every row of the table. */
#include "drivers/analyser.h"

#include "tests/bench_served.h"

#define POINTS 5
/* What a row may take beside its own deadline: two tries, and the way back into step. */
#define REST_S 8.0

/* A row of the table, its port, and what its other side can do wrong. */
struct row {
    const struct analyser_kind *kind;
    bool is_folder;
};

static const struct row rows[] = {{&analyser_profile, false}, {&analyser_folder, true}};
#define ROWS (sizeof rows / sizeof *rows)

enum trouble {
    ALL_WELL,
    SILENCE,
    GARBAGE,
    HALF,
    WRONG_LENGTH,
    DRIBBLE, /* a byte a second */
    HANG_UP,
    TROUBLES
};

/* As the emulator has them; a folder's are done by a thread. */
static const char *const faults[TROUBLES] = {
    [ALL_WELL] = NULL,
    [SILENCE] = "analyser.silent@CALC",
    [GARBAGE] = "analyser.noise-before@CALC",
    [HALF] = "analyser.cut@CALC",
    [WRONG_LENGTH] = "analyser.point-fewer@CALC",
    [DRIBBLE] = "analyser.bytes=1@CALC",
    [HANG_UP] = "analyser.cut-gone@CALC",
};

struct place {
    const struct row *row;
    enum trouble trouble;
    struct bench_served served; /* of the profile's row */
    struct link *fixture;
    char folder[64]; /* of the folder's row */
    pthread_t saver;
    unsigned n_saved;
    struct bench_file file;
    struct bias_name name;
    struct analyser a;
    struct sweep sweep;
};

static void begin_with(struct place *p, const struct row *row, enum trouble trouble)
{
    struct error e = {0};
    char port[96];

    *p = (struct place){.row = row, .trouble = trouble, .name = {"mid", 2.4}};
    if (row->is_folder) {
        (void)snprintf(p->folder, sizeof p->folder, "/tmp/gainsieve-contract-XXXXXX");
        assert_non_null(mkdtemp(p->folder));
        (void)snprintf(port, sizeof port, "folder:%s", p->folder);
        bench_served_file(&p->file, NULL);
        bench_file_port(&p->file.analyser.port, port);
        p->file.bias.longest_s = trouble == ALL_WELL ? 2 : 0.8;
    } else {
        bench_served_start(&p->served, PEER_SOCKETS, "");
        p->fixture = peer_open(p->served.ports[BENCH_FIXTURE]);
        bench_served_file(&p->file, &p->served);
        served_profile(&p->a.profile, "docs/profiles/analyser.xml", NULL, NULL);
        p->a.profile.timeout_s = SERVED_TIMEOUT_S;
        p->a.instrument.silence_s = SERVED_SILENCE_S;
    }
    p->file.sweep.points = POINTS;
    assert_done(analyser_open(&p->a, &p->file, S_BIT(S11) | S_BIT(S21), &e), &e);
    assert_ptr_equal(p->a.kind, row->kind);
    p->a.biases = (struct bias_names){&p->name, 1, 0.01};
    p->a.serial = "KW000101";
}

static void end(struct place *p)
{
    char command[128];

    analyser_close(&p->a);
    analyser_close(&p->a);
    link_close(p->fixture);
    if (!p->row->is_folder) bench_served_end(&p->served);
    bench_file_clear(&p->file);
    sweep_clear(&p->sweep);
    if (!p->row->is_folder) return;
    (void)snprintf(command, sizeof command, "rm -r '%s'", p->folder);
    assert_int_equal(system(command), 0);
}

/* The file that a folder's program saves, as the trouble has it. */
static void *save(void *context)
{
    struct place *p = context;
    const unsigned n = p->trouble == WRONG_LENGTH ? POINTS - 1 : POINTS;
    char path[128], bytes[1024];
    int length, sent;
    FILE *file;

    peer_sleep(0.1);
    if (p->trouble == SILENCE) return NULL;
    (void)snprintf(path, sizeof path, "%s/%u.s2p", p->folder, ++p->n_saved);
    length = snprintf(bytes, sizeof bytes, "# MHz S RI R 50\n");
    for (unsigned k = 0; k < n; k++)
        length +=
            snprintf(bytes + length, sizeof bytes - (size_t)length,
                     "%u 0.1 0.0%u 7 0.%u 0 0.01 0.1 0.2\n", 150 + 10 * k, p->n_saved, p->n_saved);
    if (p->trouble == GARBAGE) memset(bytes, 0xF5, 40);
    if (p->trouble == HALF) length = length / 2;
    if (p->trouble == DRIBBLE || p->trouble == HANG_UP) {
        /* Left open: it is being written for longer than anybody waits. */
        file = fopen(path, "w");
        assert_non_null(file);
        for (sent = 0; sent < 4; sent++) {
            (void)fputc(bytes[sent], file);
            (void)fflush(file);
            peer_sleep(p->trouble == DRIBBLE ? 0.3 : 0);
        }
        if (p->trouble == HANG_UP) (void)unlink(path);
        (void)fclose(file);
        return NULL;
    }
    file = fopen(path, "w");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, (size_t)length, file), length);
    (void)fclose(file);
    return NULL;
}

/* One sweep, with the trouble in it. */
static bool measure(struct place *p, struct error *e)
{
    bool ok;

    if (p->row->is_folder)
        assert_int_equal(pthread_create(&p->saver, NULL, save, p), 0);
    else if (faults[p->trouble])
        bench_served_fault(p->fixture, faults[p->trouble]);
    ok = p->a.kind->measure(&p->a, &p->sweep, e);
    if (p->row->is_folder) assert_int_equal(pthread_join(p->saver, NULL), 0);
    return ok;
}

static void make_ready(struct place *p)
{
    struct error e = {0};

    assert_int_equal(p->a.identity.length, 0);
    assert_done(p->a.kind->identify(&p->a, &e), &e);
    assert_true(p->a.identity.length > 0);
    assert_done(p->a.kind->arrange(&p->a, &e), &e);
}

/* Quiet at any time and twice; RF is off then, whatever the answers say. */
static void check_quiet(struct place *p, bool must)
{
    for (unsigned n = 0; n < 2; n++) {
        struct error e = {0};
        const bool ok = p->a.kind->quiet(&p->a, &e);

        if (must) assert_done(ok, &e);
        if (!ok) assert_holds(e.text, "NOT CONFIRMED OFF");
        if (p->fixture && p->trouble != HANG_UP)
            assert_int_equal(bench_served_state(p->fixture).rf_on, 0);
    }
}

/* All is well: as many points as asked, every parameter that was asked for, and then again. */
static void test_all_well(void **state)
{
    (void)state;
    for (size_t r = 0; r < ROWS; r++) {
        struct place p;

        begin_with(&p, &rows[r], ALL_WELL);
        check_quiet(&p, true); /* before anything */
        make_ready(&p);
        for (unsigned n = 0; n < 2; n++) {
            struct error e = {0};

            assert_done(measure(&p, &e), &e);
            assert_int_equal(p.sweep.n_points, POINTS);
            assert_true((p.sweep.measured & p.a.parameters) == p.a.parameters);
            for (size_t k = 0; k < POINTS; k++) {
                assert_close(p.sweep.frequency_hz[k], 150e6 + 10e6 * (double)k, 1);
                assert_true(cabs(sweep_s(&p.sweep, k, S21)) > 0);
            }
            check_quiet(&p, true);
        }
        end(&p);
    }
}

/* Each trouble in each row: an error within its deadline, no numbers, and quiet is tried. */
static void test_troubles(void **state)
{
    (void)state;
    for (size_t r = 0; r < ROWS; r++)
        for (enum trouble trouble = SILENCE; trouble < TROUBLES; trouble++) {
            struct place p;
            struct error e = {0};
            double begun_s, took_s;
            bool ok;

            begin_with(&p, &rows[r], trouble);
            make_ready(&p);
            begun_s = peer_now_s();
            ok = measure(&p, &e);
            took_s = peer_now_s() - begun_s;
            if (ok) print_error("%s, trouble %d: taken\n", rows[r].kind->name, (int)trouble);
            assert_false(ok);
            assert_int_equal(e.kind, ERROR_BENCH);
            assert_int_equal(p.sweep.n_points, 0);
            assert_true(took_s < (rows[r].is_folder ? 0.8 + PEER_LATE_S + 0.5 : REST_S));
            check_quiet(&p, trouble != HANG_UP && trouble != DRIBBLE);
            end(&p);
        }
}

/* Somebody asks to stop in the middle. */
static struct place stopping;

static bool stop_in_the_middle(void)
{
    struct error e = {0}, quiet = {0};

    if (stopping.a.kind->measure(&stopping.a, &stopping.sweep, &e) || e.kind != ERROR_STOPPED ||
        stopping.sweep.n_points != 0)
        return false;
    return stopping.a.kind->quiet(&stopping.a, &quiet);
}

static void test_stop(void **state)
{
    (void)state;
    for (size_t r = 0; r < ROWS; r++) {
        begin_with(&stopping, &rows[r], ALL_WELL);
        make_ready(&stopping);
        stopping.file.bias.longest_s = 30;
        stopping.a.profile.timeout_s = 20;
        if (stopping.fixture) bench_served_fault(stopping.fixture, "analyser.silent@CALC");
        assert_true(peer_stop_once(stop_in_the_middle) < (rows[r].is_folder ? 1 : REST_S));
        if (stopping.fixture) assert_int_equal(bench_served_state(stopping.fixture).rf_on, 0);
        end(&stopping);
    }
}

/* No descriptor is left behind by opening and closing. */
static void test_no_descriptor_left(void **state)
{
    (void)state;
    for (size_t r = 0; r < ROWS; r++) {
        int free_before, free_after;
        struct place p;

        free_before = dup(0);
        (void)close(free_before);
        begin_with(&p, &rows[r], ALL_WELL);
        end(&p);
        free_after = dup(0);
        (void)close(free_after);
        assert_int_equal(free_before, free_after);
    }
}

/* Old traces: any parameter that both sweeps have and that is the same in every point. */
static void test_old_trace(void **state)
{
    struct analyser a = {.parameters = S_BIT(S11) | S_BIT(S21) | S_BIT(S12)};
    struct sweep now = {0};
    struct error e = {0};

    (void)state;
    assert_done(sweep_reserve(&now, 2, &e), &e);
    now.n_points = 2;
    now.measured = S_BIT(S11) | S_BIT(S21);
    for (size_t k = 0; k < 2; k++)
        for (unsigned s = 0; s < S_PARAMETERS; s++)
            now.s[S_PARAMETERS * k + s] = 1 + (double)k + s;
    assert_false(analyser_has_old_trace(&a, &now)); /* the first of all */
    assert_done(sweep_copy(&a.last, &now, &e), &e);
    assert_true(analyser_has_old_trace(&a, &now));
    now.s[S11] += 0.5;
    assert_true(analyser_has_old_trace(&a, &now)); /* S21 stands still */
    now.s[S_PARAMETERS + S21] += 0.5;
    assert_false(analyser_has_old_trace(&a, &now));
    now.s[S11] -= 0.5;
    a.parameters = S_BIT(S21); /* S11 stands still, and nobody wanted it */
    assert_false(analyser_has_old_trace(&a, &now));
    a.parameters = S_ALL;
    assert_true(analyser_has_old_trace(&a, &now));
    a.last.measured = S_BIT(S12);
    assert_false(analyser_has_old_trace(&a, &now)); /* nothing to compare */
    sweep_clear(&now);
    analyser_close(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_all_well),  cmocka_unit_test(test_troubles),
        cmocka_unit_test(test_stop),      cmocka_unit_test(test_no_descriptor_left),
        cmocka_unit_test(test_old_trace),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
