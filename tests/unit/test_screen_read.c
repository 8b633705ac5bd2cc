#include <poll.h>
#include <sys/wait.h>
#include <time.h>

#include "drivers/base/stop.h"
#include "runner/screen_parts.h"
#include "tests/screen_view.h"
#include "tests/terminal.h"

static struct terminal terminal;

static int give_terminal(void **state)
{
    (void)state;
    terminal_give(&terminal);
    return 0;
}

static void open_on_terminal(struct screen *screen)
{
    struct error e = {0};

    terminal_take(&terminal, 80, 24);
    assert_done(screen_open(screen, false, &e), &e);
}

static void close_on_terminal(struct screen *screen)
{
    screen_close(screen);
    terminal_give(&terminal);
}

/* The next line must be `want`; NULL: the end of input. */
static void assert_reads(struct screen *screen, const char *want)
{
    const struct screen_view view = view_of_failure();
    struct text out = {0};
    struct error e = {0};
    bool ended;

    assert_done(screen_read(screen, &view, &out, &ended, &e), &e);
    assert_int_equal(ended, want == NULL);
    assert_string_equal(text_words(&out), want ? want : "");
    text_clear(&out);
}

/* A scanner's burst is one line, whether it ends with CR, LF or both, and whatever comes next. */
static void test_scanner(void **state)
{
    struct screen screen = {0};

    (void)state;
    open_on_terminal(&screen);
    terminal_type(&terminal, "KW000101\r\nKW000102\rKW000103\nKW000104\r\n\r\n");
    assert_reads(&screen, "KW000101");
    assert_reads(&screen, "KW000102");
    assert_reads(&screen, "KW000103");
    assert_reads(&screen, "KW000104");
    assert_reads(&screen, "");
    /* The line feed may come later than the line was taken. */
    terminal_type(&terminal, "KW000105\r");
    assert_reads(&screen, "KW000105");
    terminal_type(&terminal, "\nKW000106\r");
    assert_reads(&screen, "KW000106");
    close_on_terminal(&screen);
}

/* Keys that change the line: Backspace in both its codes takes a whole character, Ctrl-U all;
 * blanks around are dropped, within they stay; other control characters and the keys that send
 * several bytes are nothing. */
static void test_keys(void **state)
{
    static const struct {
        const char *keys, *want;
    } cases[] = {{"KW1\x7F\b2\r", "K2"},
                 {"\x7F\x7FK\r", "K"},
                 {"old\x15new\r", "new"},
                 {"  /note loose  joint \r", "/note loose  joint"},
                 {"K\tW\x01\x02\x1D\x0C"
                  "1\r",
                  "KW1"},
                 {"K\033[A\033[1;5CW\033OP1\033[3~\r", "KW1"},
                 {"\033K\r", "K"},
                 {"K\033[\r", "K"},
                 {"gel\xC3\xB6\x7Fo\xC3\xB6t\r", "gelo\xC3\xB6t"},
                 {"K\xFFW\r", "K\xEF\xBF\xBDW"},
                 {"K\x04W\r", "KW"}};
    struct screen screen = {0};

    (void)state;
    open_on_terminal(&screen);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        terminal_type(&terminal, cases[i].keys);
        assert_reads(&screen, cases[i].want);
    }
    close_on_terminal(&screen);
}

/* What is typed is seen at once, without the terminal's own echo, and the cursor is behind it: the
 * typist goes on only when he sees it. */
static void test_echo(void **state)
{
    struct screen screen = {0};
    pid_t typist;
    int status;

    (void)state;
    open_on_terminal(&screen);
    typist = fork();
    assert_true(typist >= 0);
    if (typist == 0) {
        bool seen = false;

        terminal_type(&terminal, "KW0001");
        for (int i = 0; i < 200 && !seen; i++) {
            struct pollfd polled = {.fd = terminal.master, .events = POLLIN};

            (void)poll(&polled, 1, 50);
            terminal_read(&terminal);
            seen = strcmp(terminal_row(&terminal, 22), "> KW0001") == 0 && terminal.row == 22 &&
                   terminal.column == 8;
        }
        terminal_type(&terminal, "\r");
        _exit(seen ? 0 : 1);
    }
    assert_reads(&screen, "KW0001");
    assert_int_equal(waitpid(typist, &status, 0), typist);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
    close_on_terminal(&screen);
}

/* A line that never ends costs no memory and harms neither screen nor the next line. */
static void test_overlong(void **state)
{
    struct screen screen = {0};
    char keys[1001], kept[CEILING_LINE + 1];

    (void)state;
    open_on_terminal(&screen);
    memset(keys, 'K', 1000);
    keys[1000] = '\0';
    memset(kept, 'K', CEILING_LINE);
    kept[CEILING_LINE] = '\0';
    terminal_type(&terminal, keys);
    terminal_type(&terminal, keys);
    terminal_type(&terminal, "\rKW1\r");
    assert_reads(&screen, kept);
    assert_reads(&screen, "KW1");
    close_on_terminal(&screen);
}

/* Ctrl-D where nothing is typed and a terminal that hangs up are the end of input. */
static void test_end_of_terminal(void **state)
{
    const struct screen_view view = view_of_failure();
    struct screen screen = {0};
    struct text out = {0};
    struct error e = {0};
    bool ended = false;

    (void)state;
    open_on_terminal(&screen);
    terminal_type(&terminal, "\x04");
    assert_reads(&screen, NULL);
    (void)close(terminal.master);
    terminal.master = 0;
    /* The screen may notice first, since it cannot be drawn. */
    if (screen_read(&screen, &view, &out, &ended, &e))
        assert_true(ended);
    else
        assert_int_equal(e.kind, ERROR_STOPPED);
    text_clear(&out);
    close_on_terminal(&screen);
}

/* What was typed while nobody asked is gone: a whole second scan, what had been read already, and
 * the line feed that straggles in behind; Enter afterwards counts. */
static void test_forget(void **state)
{
    struct screen screen = {0};

    (void)state;
    open_on_terminal(&screen);
    terminal_type(&terminal, "KW000101\rKW000101\rKW0");
    assert_reads(&screen, "KW000101");
    screen_forget(&screen);
    terminal_type(&terminal, "KW000102\n");
    assert_reads(&screen, "KW000102");
    terminal_type(&terminal, "KW000102\r");
    screen_forget(&screen);
    terminal_type(&terminal, "\n\r");
    assert_reads(&screen, "");
    terminal_type(&terminal, "yes\r");
    assert_reads(&screen, "yes");
    close_on_terminal(&screen);
}

/* A scan that is still coming in is thrown away to its end, so that its second half is no serial
 * number. A loaded machine may stretch the pauses: one of five attempts must do. */
static void test_forget_burst(void **state)
{
    const struct timespec pause = {.tv_nsec = 3000000}, half = {.tv_nsec = 12000000};
    struct screen screen = {0};
    bool whole = false;

    (void)state;
    open_on_terminal(&screen);
    for (int i = 0; i < 5 && !whole; i++) {
        const struct screen_view view = view_of_failure();
        struct text out = {0};
        struct error e = {0};
        bool ended;
        pid_t scanner = fork();

        assert_true(scanner >= 0);
        if (scanner == 0) {
            for (const char *p = "KW000101KW000101\r\n"; *p; p++) {
                if (write(terminal.master, p, 1) != 1) _exit(1);
                (void)nanosleep(&pause, NULL);
            }
            _exit(0);
        }
        (void)nanosleep(&half, NULL);
        screen_forget(&screen);
        assert_int_equal(waitpid(scanner, NULL, 0), scanner);
        terminal_type(&terminal, "next\r");
        assert_done(screen_read(&screen, &view, &out, &ended, &e), &e);
        whole = strcmp(text_words(&out), "next") == 0;
        text_clear(&out);
        screen_forget(&screen);
    }
    assert_true(whole);
    close_on_terminal(&screen);
}

/* Lines of a pipe are what a terminal would give; they are not typed, so that none is forgotten;
 * the last may lack its end. */
static void test_pipe(void **state)
{
    static const char lines[] = "KW000101\r\n  KW000102\n\nKW000103\rKW0001\x04"
                                "04";
    int ends[2], input = fcntl(STDIN_FILENO, F_DUPFD_CLOEXEC, 10);
    int output = fcntl(STDOUT_FILENO, F_DUPFD_CLOEXEC, 10);
    int nowhere = open("/dev/null", O_WRONLY | O_CLOEXEC);
    struct screen screen = {0};
    struct error e = {0};

    (void)state;
    (void)fflush(stdout);
    assert_int_equal(pipe(ends), 0);
    assert_true(dup2(ends[0], STDIN_FILENO) >= 0 && dup2(nowhere, STDOUT_FILENO) >= 0);
    (void)close(ends[0]);
    (void)close(nowhere);
    assert_int_equal(write(ends[1], lines, sizeof lines - 1), sizeof lines - 1);
    (void)close(ends[1]);
    assert_done(screen_open(&screen, true, &e), &e);
    assert_reads(&screen, "KW000101");
    screen_forget(&screen);
    assert_reads(&screen, "KW000102");
    assert_reads(&screen, "");
    assert_reads(&screen, "KW000103");
    assert_reads(&screen, "KW000104");
    assert_reads(&screen, NULL);
    assert_reads(&screen, NULL);
    screen_close(&screen);
    (void)dup2(input, STDIN_FILENO);
    (void)dup2(output, STDOUT_FILENO);
    (void)close(input);
    (void)close(output);
}

/* The program of a station, with the pseudo-terminal as its own; ends with 42 when it was asked to
 * stop and has given the terminal back. */
static void be_station(void)
{
    const struct screen_view view = view_of_failure();
    struct screen screen = {0};
    struct text out = {0};
    struct error e = {0};
    struct termios now;
    bool ended;

    if (setsid() < 0 || ioctl(STDIN_FILENO, TIOCSCTTY, 0) != 0) _exit(1);
    (void)close(terminal.master);
    stop_listen();
    if (!screen_open(&screen, false, &e)) _exit(2);
    while (screen_read(&screen, &view, &out, &ended, &e) && !ended)
        continue;
    screen_close(&screen);
    if (tcgetattr(STDIN_FILENO, &now) == 0 && now.c_lflag != terminal.before.c_lflag) _exit(3);
    _exit(e.kind == ERROR_STOPPED ? 42 : 4);
}

/* Waits until the station shows its page. */
static void await_page(void)
{
    for (int i = 0; i < 200; i++) {
        struct pollfd polled = {.fd = terminal.master, .events = POLLIN};

        (void)poll(&polled, 1, 50);
        terminal_read(&terminal);
        if (strncmp(terminal_row(&terminal, 23), "Enter", 5) == 0) return;
    }
    fail();
}

/* Ctrl-C asks to stop; Ctrl-Z, Ctrl-\ and Ctrl-S before it neither suspend nor end nor hold the
 * program; a terminal that hangs up asks to stop too. Either way the terminal is given back. */
static void test_stop(void **state)
{
    (void)state;
    for (int hang_up = 0; hang_up < 2; hang_up++) {
        pid_t station;
        int status;

        terminal_take(&terminal, 80, 24);
        station = fork();
        assert_true(station >= 0);
        if (station == 0) be_station();
        await_page();
        if (hang_up) {
            (void)close(terminal.master);
            terminal.master = 0;
        } else {
            terminal_type(&terminal, "K\x1A\x1C\x13\x03");
        }
        assert_int_equal(waitpid(station, &status, 0), station);
        assert_true(WIFEXITED(status));
        /* A terminal that hangs up may be the end of input before the signal comes. */
        assert_true(WEXITSTATUS(status) == 42 || (hang_up && WEXITSTATUS(status) == 4));
        terminal_give(&terminal);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(test_scanner, give_terminal),
        cmocka_unit_test_teardown(test_keys, give_terminal),
        cmocka_unit_test_teardown(test_echo, give_terminal),
        cmocka_unit_test_teardown(test_overlong, give_terminal),
        cmocka_unit_test_teardown(test_end_of_terminal, give_terminal),
        cmocka_unit_test_teardown(test_forget, give_terminal),
        cmocka_unit_test_teardown(test_forget_burst, give_terminal),
        cmocka_unit_test(test_pipe),
        cmocka_unit_test_teardown(test_stop, give_terminal),
    };

    if (setenv("TERM", "vt100", 1) != 0) return 1;
    return cmocka_run_group_tests(tests, NULL, NULL);
}
