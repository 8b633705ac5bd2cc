#include "runner/emulated_bench.h"

#include <fcntl.h>

#include "tests/bench_served.h"

static void take_file(struct bench_file *file, const char *analyser)
{
    bench_served_file(file, NULL);
    if (analyser) bench_file_port(&file->analyser.port, analyser);
}

/* Asks over the port that the file now names. */
static void ask(const char *port, const char *words, struct text *out)
{
    struct link *link = peer_open(port);

    assert_int_equal(strncmp(port, "fd:", 3), 0);
    bench_served_say(link, words, out);
    link_close(link);
}

/* The three ports become lines to one bench in a process of its own, each under its own name. */
static void test_start(void **state)
{
    struct emulated_bench b;
    struct bench_file file = {0};
    struct text answer = {0};
    struct link *links[3];
    struct error e = {0};

    (void)state;
    take_file(&file, NULL);
    assert_done(emulated_bench_start(&b, &file, &e), &e);
    assert_true(b.pid > 0);
    assert_holds(file.analyser.port, "=emulated:analyser");
    assert_holds(file.supply.port, "=emulated:supply");
    assert_holds(file.fixture, "=emulated:fixture");
    links[0] = peer_open(file.analyser.port);
    links[1] = peer_open(file.supply.port);
    links[2] = peer_open(file.fixture);
    assert_string_equal(links[1]->port, "emulated:supply");
    bench_served_say(links[0], "*IDN?\n", &answer);
    assert_holds(text_words(&answer), "analyser");
    bench_served_say(links[1], "*IDN?\n", &answer);
    assert_holds(text_words(&answer), "supply");
    bench_served_say(links[1], "VOLT 2;OUTP 1;OUTP?\n", &answer);
    assert_close(bench_served_state(links[2]).v, 2, 1e-9);
    for (unsigned k = 0; k < 3; k++)
        link_close(links[k]);
    emulated_bench_end(&b);
    assert_int_equal(b.pid, 0);
    emulated_bench_end(&b);
    text_clear(&answer);
    bench_file_clear(&file);
}

/* Real ports stay as they are, and no process is started for them. */
static void test_real_ports(void **state)
{
    struct emulated_bench b = {77, {1, 2, 3}}, zero = {0};
    struct bench_file file = {0};
    struct error e = {0};

    (void)state;
    take_file(&file, "tcp:127.0.0.1:1");
    bench_file_port(&file.supply.port, "manual:");
    bench_file_port(&file.fixture, NULL);
    assert_done(emulated_bench_start(&b, &file, &e), &e);
    assert_int_equal(b.pid, 0);
    assert_string_equal(file.analyser.port, "tcp:127.0.0.1:1");
    assert_string_equal(file.supply.port, "manual:");
    assert_null(file.fixture);
    emulated_bench_end(&b);
    emulated_bench_end(&zero);
    /* One is enough for a bench. */
    bench_file_port(&file.supply.port, "emulated:supply");
    assert_done(emulated_bench_start(&b, &file, &e), &e);
    assert_true(b.pid > 0);
    assert_string_equal(file.analyser.port, "tcp:127.0.0.1:1");
    emulated_bench_end(&b);
    bench_file_clear(&file);
}

/* The first readings of a seed; the same seed gives the same. */
static void read_trace(const char *port, struct text *out)
{
    struct emulated_bench b;
    struct bench_file file = {0};
    struct error e = {0};
    struct link *link;

    take_file(&file, port);
    assert_done(emulated_bench_start(&b, &file, &e), &e);
    link = peer_open(file.analyser.port);
    bench_served_say(link, "*RST;FORM ASC;:SWE:POIN 5;:INIT;*OPC?\n", out);
    bench_served_say(link, "CALC:DATA?\n", out);
    link_close(link);
    emulated_bench_end(&b);
    bench_file_clear(&file);
}

static void test_seed(void **state)
{
    struct text one = {0}, same = {0}, other = {0};

    (void)state;
    read_trace("emulated:analyser", &one);
    read_trace("emulated:analyser?seed=1", &same);
    read_trace("emulated:analyser?seed=7", &other);
    assert_string_equal(text_words(&one), text_words(&same));
    assert_string_not_equal(text_words(&one), text_words(&other));
    text_clear(&one);
    text_clear(&same);
    text_clear(&other);
}

/* Faults of both instruments, and sweeps that take their time. */
static void test_options(void **state)
{
    struct emulated_bench b;
    struct bench_file file = {0};
    struct text answer = {0};
    struct error e = {0};
    struct link *link;
    double begun_s;

    (void)state;
    take_file(&file, "emulated:analyser?fault=analyser.crlf@1+supply.trip&sweep-time=yes");
    assert_done(emulated_bench_start(&b, &file, &e), &e);
    link = peer_open(file.analyser.port);
    bench_served_say(link, "*IDN?\n", &answer);
    assert_int_equal(answer.data[answer.length - 1], '\r');
    begun_s = peer_now_s();
    bench_served_say(link, "SWE:POIN 201;:BAND 1000;:INIT;*OPC?\n", &answer);
    assert_true(peer_now_s() - begun_s >= 0.2); /* 201 points at 1 kHz */
    link_close(link);
    ask(file.supply.port, "CURR:PROT:TRIP?\n", &answer);
    assert_string_equal(text_words(&answer), "1");
    link = peer_open(file.fixture);
    link_close(link);
    emulated_bench_end(&b);
    text_clear(&answer);
    bench_file_clear(&file);
}

/* What is no option is an error with the file's line, and no process is left. */
static void test_wrong_options(void **state)
{
    static const char *const ports[] = {
        "emulated:analyser?seed=x",         "emulated:analyser?seed=4294967296",
        "emulated:analyser?sweep-time=no",  "emulated:analyser?colour=red",
        "emulated:analyser?fault=nonsense", "emulated:analyser?",
        "emulated:analyser?seed=1&&seed=2", "emulated:analyser?fault=cut@0",
    };
    char many[700] = "emulated:analyser?fault=";

    (void)state;
    memset(many + strlen(many), 'x', sizeof many - 1 - strlen(many));
    many[sizeof many - 1] = '\0';
    for (size_t k = 0; k <= sizeof ports / sizeof *ports; k++) {
        const bool last = k == sizeof ports / sizeof *ports;
        struct emulated_bench b;
        struct bench_file file = {0};
        struct error e = {0};
        char line[32];

        take_file(&file, last ? many : ports[k]);
        if (emulated_bench_start(&b, &file, &e)) {
            print_error("%s: taken\n", ports[k]);
            fail();
        }
        assert_int_equal(e.kind, ERROR_INPUT);
        (void)snprintf(line, sizeof line, "bench.xml:%lu: ", file.analyser.line);
        assert_holds(e.text, line);
        assert_int_equal(b.pid, 0);
        emulated_bench_end(&b);
        bench_file_clear(&file);
    }
}

/* Options behind another port than the analyser's are not passed over silently. */
static void test_options_elsewhere(void **state)
{
    struct emulated_bench b;
    struct bench_file file = {0};
    struct error e = {0};

    (void)state;
    take_file(&file, NULL);
    bench_file_port(&file.supply.port, "emulated:supply?fault=supply.trip");
    assert_false(emulated_bench_start(&b, &file, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "emulated:analyser");
    emulated_bench_end(&b);
    bench_file_clear(&file);
    take_file(&file, NULL);
    bench_file_port(&file.fixture, "emulated:fixture?seed=3");
    e = (struct error){0};
    assert_false(emulated_bench_start(&b, &file, &e));
    emulated_bench_end(&b);
    bench_file_clear(&file);
}

/* Lines that no link ever took do not keep the process, nor who ends it. */
static void test_end_without_links(void **state)
{
    struct emulated_bench b;
    struct bench_file file = {0};
    struct error e = {0};
    double begun_s;
    pid_t pid;

    (void)state;
    take_file(&file, NULL);
    assert_done(emulated_bench_start(&b, &file, &e), &e);
    pid = b.pid;
    begun_s = peer_now_s();
    emulated_bench_end(&b);
    assert_true(peer_now_s() - begun_s < 1.5);
    assert_int_equal(kill(pid, 0), -1);
    for (unsigned k = 0; k < 3; k++) {
        const char *const names[] = {file.analyser.port, file.supply.port, file.fixture};

        (void)close((int)strtol(names[k] + 3, NULL, 10));
    }
    bench_file_clear(&file);
}

/* It is deaf to what ends the program, ends when the program is gone, and holds nothing of it. */
static void test_apart(void **state)
{
    static const int signals[] = {SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGTSTP};
    struct emulated_bench b;
    struct bench_file file = {0};
    struct text answer = {0};
    struct error e = {0};
    struct link *links[3];
    struct pollfd polled;
    int ends[2];
    char byte;

    (void)state;
    assert_int_equal(pipe(ends), 0);
    take_file(&file, NULL);
    assert_done(emulated_bench_start(&b, &file, &e), &e);
    (void)close(ends[1]);
    polled = (struct pollfd){ends[0], POLLIN, 0};
    assert_int_equal(poll(&polled, 1, 1000), 1);
    assert_int_equal(read(ends[0], &byte, 1), 0);
    (void)close(ends[0]);
    links[0] = peer_open(file.analyser.port);
    links[1] = peer_open(file.supply.port);
    links[2] = peer_open(file.fixture);
    for (size_t k = 0; k < sizeof signals / sizeof *signals; k++)
        assert_int_equal(kill(b.pid, signals[k]), 0);
    bench_served_say(links[1], "*IDN?\n", &answer);
    assert_holds(text_words(&answer), "supply");
    for (unsigned k = 0; k < 3; k++)
        link_close(links[k]);
    emulated_bench_end(&b);
    text_clear(&answer);
    bench_file_clear(&file);
}

/* No allocation that fails leaves a process behind that nobody can end. */
static void test_no_memory(void **state)
{
    bool done = false;

    (void)state;
    for (unsigned long nth = 1; nth < 40 && !done; nth++) {
        struct emulated_bench b;
        struct bench_file file = {0};
        struct error e = {0};

        take_file(&file, "emulated:analyser?fault=cut@3");
        memory_fail_at(nth);
        done = emulated_bench_start(&b, &file, &e);
        memory_fail_at(0);
        assert_true(done || e.kind == ERROR_MEMORY);
        if (b.pid > 0) (void)kill(b.pid, SIGKILL);
        emulated_bench_end(&b);
        bench_file_clear(&file);
    }
    assert_true(done);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_start),
        cmocka_unit_test(test_real_ports),
        cmocka_unit_test(test_seed),
        cmocka_unit_test(test_options),
        cmocka_unit_test(test_wrong_options),
        cmocka_unit_test(test_options_elsewhere),
        cmocka_unit_test(test_end_without_links),
        cmocka_unit_test(test_apart),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
