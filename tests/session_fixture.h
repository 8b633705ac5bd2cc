/* An operator's session for tests: a real record in a temporary folder and an emulated bench behind
 * real links; the screen is over pipes, or over a pseudo-terminal while the session runs in a
 * thread. */
#ifndef GAINSIEVE_TESTS_SESSION_FIXTURE_H
#define GAINSIEVE_TESTS_SESSION_FIXTURE_H

#include <pthread.h>
#include <signal.h>

#include "drivers/base/memory.h"
#include "drivers/emulator_serve.h"
#include "runner/emulated_bench.h"
#include "runner/session.h"
#include "tests/record_fixture.h"
#include "tests/terminal.h"

#define SESSION_LIMITS "docs/demo/kittiwake.xml"
/* Parts of a bench file that a test may want otherwise. */
struct session_bench {
    const char *analyser; /* behind "emulated:analyser" */
    const char *limits;   /* a limits file as text; NULL: SESSION_LIMITS */
    const char *rest;     /* elements behind <correction>; NULL: three attempts, streak of three */
    bool by_hand;         /* no fixture: KW000101 stays connected */
    const char *faults;   /* behind TCP, with these faults: only such a bench can be opened anew */
};

struct session_fixture {
    struct tree *tree;
    struct bench_file file;
    struct emulated_bench emulated;
    pid_t server; /* of a bench behind TCP */
    struct guardian guardian;
    struct record *record;
    struct screen screen;
    struct bench bench;
    struct session s;
    struct terminal terminal;
    pthread_t thread;
    int input, output; /* saved, while pipes are in their place */
    bool ok;
    struct error e;
    char said[65536]; /* what was written to a pipe's reader */
};

/* A bench behind TCP in a process of its own; `ports` are those of analyser, supply, fixture. */
static inline void session_fixture_serve(struct session_fixture *f, const char *faults,
                                         char ports[3][64])
{
    static struct emulator bench;
    const struct emulator_settings settings = {.seed = 1};
    struct emulator_server server = {.bench = &bench, .ignores_stop = true};
    struct emulator_instrument *const at[] = {&bench.analyser, &bench.supply, &bench.fixture};

    emulator_start(&bench, &settings);
    assert_done(emulator_arm(&bench, faults, &f->e), &f->e);
    for (unsigned k = 0; k < 3; k++) {
        assert_done(emulator_server_tcp(&server, at[k], 0, &f->e), &f->e);
        (void)snprintf(ports[k], sizeof ports[k], "%s", server.ports[k].where);
    }
    f->server = fork();
    assert_true(f->server >= 0);
    if (f->server == 0) _exit(emulator_serve(&server, &f->e) ? 0 : 1);
    emulator_server_clear(&server);
    emulator_clear(&bench);
}

static inline void session_fixture_files(struct session_fixture *f,
                                         const struct session_bench *bench)
{
    static const char *const usual = "<attempts most=\"3\"/>\n<streak stop-after=\"3\"/>\n";
    char xml[4096], profiles[1024], supply[1200];
    char ports[3][64] = {"emulated:analyser", "emulated:supply", "emulated:fixture"};

    assert_non_null(realpath("docs/profiles", profiles));
    if (bench->faults) session_fixture_serve(f, bench->faults, ports);
    (void)snprintf(supply, sizeof supply, "profile=\"%s/supply.xml\" port=\"%s\"", profiles,
                   ports[1]);
    (void)snprintf(
        xml, sizeof xml,
        "<bench xmlns=\"urn:gainsieve:bench:1\" label=\"Test bench\">\n"
        "<analyser profile=\"%s/analyser.xml\" port=\"%s%s\"/>\n"
        "<supply %s/>\n<fixture port=\"%s\"/>\n"
        "<sweep from=\"150 MHz\" to=\"190 MHz\" points=\"41\" if-bandwidth=\"10 kHz\" "
        "power=\"-30 dBm\" setup=\"1\"/>\n"
        "<levels pad=\"20 dB\" pad-rating=\"30 dBm\" saturated-output=\"20 dBm\" "
        "highest-gain=\"31 dB\"/>\n"
        "<bias current-limit=\"15 mA\" most=\"3.2 V\" ramp-step=\"1 V\" ramp-interval=\"1 ms\" "
        "settling=\"1 ms\"/>\n<correction required=\"yes\"/>\n%s</bench>\n",
        profiles, ports[0], bench->analyser ? bench->analyser : "", supply, ports[2],
        bench->rest ? bench->rest : usual);
    tree_write(f->tree, "bench.xml", xml);
}

/* Plugs KW000101 in by hand and leaves the session without a fixture. */
static inline void session_fixture_by_hand(struct session_fixture *f)
{
    static const char words[] = "FIXT:CONN \"KW000101\"\n";
    int fd = atoi(f->file.fixture + strlen("fd:"));

    assert_int_equal(write(fd, words, strlen(words)), strlen(words));
    memory_free(f->file.fixture);
    f->file.fixture = NULL;
}

/* Everything but the screen; a batch that is there is gone on with. */
static inline void session_fixture_open(struct session_fixture *f, struct tree *tree,
                                        const struct session_bench *bench)
{
    char folder[512], path[512], limits[512] = SESSION_LIMITS;
    struct record_request request = {.folder = folder, .limits = limits, .bench = path};

    memset(f, 0, sizeof *f);
    f->tree = tree;
    session_fixture_files(f, bench);
    (void)snprintf(folder, sizeof folder, "%s/batch", tree->top);
    (void)snprintf(path, sizeof path, "%s/bench.xml", tree->top);
    if (bench->limits) {
        tree_write(tree, "limits.xml", bench->limits);
        (void)snprintf(limits, sizeof limits, "%s/limits.xml", tree->top);
    }
    assert_done(bench_file_read(&f->file, path, &f->e), &f->e);
    assert_done(emulated_bench_start(&f->emulated, &f->file, &f->e), &f->e);
    if (bench->by_hand) session_fixture_by_hand(f);
    assert_done(guardian_start(&f->guardian, &f->e), &f->e);
    request.reason = "another test's bench file";
    assert_done(record_open(&f->record, &request, &f->e), &f->e);
    f->bench = (struct bench){
        .file = &f->file, .limits = record_limits(f->record), .guardian = &f->guardian};
    f->s.file = &f->file;
    f->s.bench = &f->bench;
    f->s.record = f->record;
    f->s.screen = &f->screen;
    f->s.batch = "batch";
}

/* Ends what session_fixture_open() and a run have begun. */
static inline void session_fixture_close(struct session_fixture *f)
{
    struct error e = {0};

    bench_close(&f->bench);
    screen_close(&f->screen);
    session_clear(&f->s);
    guardian_end(&f->guardian, f->bench.is_off);
    emulated_bench_end(&f->emulated);
    if (f->server > 0) {
        assert_int_equal(kill(f->server, SIGKILL), 0);
        assert_int_equal(waitpid(f->server, NULL, 0), f->server);
    }
    assert_done(record_close(f->record, &e), &e);
    bench_file_clear(&f->file);
}

/* Puts the lines on standard input and a file in the place of standard output; opens the screen. */
static inline void session_fixture_pipe(struct session_fixture *f, const char *lines)
{
    int out, in;

    tree_write(f->tree, "lines", lines);
    in = open(tree_path(f->tree, "lines"), O_RDONLY | O_CLOEXEC);
    out = open(tree_path(f->tree, "said"), O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    assert_true(in >= 0 && out >= 0);
    (void)fflush(stdout);
    f->input = fcntl(STDIN_FILENO, F_DUPFD_CLOEXEC, 10);
    f->output = fcntl(STDOUT_FILENO, F_DUPFD_CLOEXEC, 10);
    assert_true(dup2(in, STDIN_FILENO) >= 0 && dup2(out, STDOUT_FILENO) >= 0);
    (void)close(in);
    (void)close(out);
    assert_done(screen_open(&f->screen, false, &f->e), &f->e);
}

/* Takes both away again, and keeps what was said. */
static inline void session_fixture_unpipe(struct session_fixture *f)
{
    ssize_t n = pread(STDOUT_FILENO, f->said, sizeof f->said - 1, 0);

    (void)dup2(f->output, STDOUT_FILENO);
    (void)dup2(f->input, STDIN_FILENO);
    (void)close(f->output);
    (void)close(f->input);
    assert_true(n >= 0);
    f->said[n] = '\0';
}

/* A whole session over pipes; f->ok, f->e and f->said tell of it, f->s of how it ended. */
static inline void session_fixture_run(struct session_fixture *f, struct tree *tree,
                                       const struct session_bench *bench, const char *lines)
{
    session_fixture_open(f, tree, bench);
    session_fixture_pipe(f, lines);
    f->ok = session_run(&f->s, &f->e);
    session_fixture_unpipe(f);
}

static inline void *session_fixture_thread(void *context)
{
    struct session_fixture *f = context;

    f->ok = session_run(&f->s, &f->e);
    return NULL;
}

/* Begins a session on a terminal of 80 x 24, with the test as its operator. */
static inline void session_fixture_sit(struct session_fixture *f, struct tree *tree,
                                       const struct session_bench *bench)
{
    assert_int_equal(setenv("TERM", "ansi", 1), 0);
    session_fixture_open(f, tree, bench);
    terminal_take(&f->terminal, 80, 24);
    assert_done(screen_open(&f->screen, false, &f->e), &f->e);
    assert_int_equal(pthread_create(&f->thread, NULL, session_fixture_thread, f), 0);
}

static inline bool session_fixture_sees(const struct session_fixture *f, const char *words)
{
    for (int row = 0; row < f->terminal.rows; row++)
        if (strstr(terminal_row(&f->terminal, row), words)) return true;
    return false;
}

/* Waits until the words stand in one row of the screen. */
static inline void session_fixture_wait(struct session_fixture *f, const char *words)
{
    struct deadline deadline = deadline_in(10);

    for (;;) {
        terminal_read(&f->terminal);
        if (session_fixture_sees(f, words)) return;
        if (deadline_passed(deadline)) break;
        deadline_sleep(deadline_in(0.01));
    }
    print_error("not on the screen: \"%s\"\n", words);
    for (int row = 0; row < f->terminal.rows; row++)
        print_error("    %s\n", terminal_row(&f->terminal, row));
    exit(1);
}

/* Waits for the words, then types the keys. */
static inline void session_fixture_type(struct session_fixture *f, const char *words,
                                        const char *keys)
{
    session_fixture_wait(f, words);
    terminal_type(&f->terminal, keys);
}

/* Waits for the end of the session; the terminal is given back. */
static inline void session_fixture_leave(struct session_fixture *f)
{
    assert_int_equal(pthread_join(f->thread, NULL), 0);
    screen_close(&f->screen);
    terminal_give(&f->terminal);
}

/* How many notes of a kind the record holds; NULL serial: of any. */
static inline int session_fixture_notes(struct session_fixture *f, const char *kind)
{
    struct record_query q = {0};
    struct error e = {0};
    bool row = false;
    int n = 0;

    assert_done(
        record_query_open(&q, &record_reader_of(f->record)->db, "SELECT kind FROM note", &e), &e);
    for (;;) {
        assert_done(record_query_step(&q, &row, &e), &e);
        if (!row) break;
        n += strcmp(record_column_text(&q, 0), kind) == 0;
    }
    record_query_close(&q);
    return n;
}

/* How many attempts the record holds of a serial number. */
static inline unsigned long session_fixture_attempts(struct session_fixture *f, const char *serial)
{
    struct record_last last;
    struct error e = {0};

    assert_done(record_find(record_reader_of(f->record), serial, &last, &e), &e);
    return last.attempts;
}

#endif
