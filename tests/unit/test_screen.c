#include <signal.h>
#include <time.h>

#include "tests/screen_view.h"
#include "tests/terminal.h"

static struct terminal terminal;

static int give_terminal(void **state)
{
    (void)state;
    terminal_give(&terminal);
    return 0;
}

/* What is on the terminal is what is drawn for its size, wherever it came from. */
static void assert_shown(const struct screen_view *view, const char *line)
{
    struct text page = {0}, seen = {0};
    const unsigned columns = (unsigned)terminal.columns, rows = (unsigned)terminal.rows;

    terminal_read(&terminal);
    screen_draw(view, line, columns, rows, false, &page);
    check_page(&page, columns, rows, &seen);
    for (unsigned row = 0; row < rows; row++) {
        char want[512];
        size_t length;

        (void)snprintf(want, sizeof want, "%s", row_of_page(&seen, row));
        length = strlen(want);
        while (length > 0 && want[length - 1] == ' ')
            want[--length] = '\0';
        assert_string_equal(terminal_row(&terminal, (int)row), want);
    }
    text_clear(&page);
    text_clear(&seen);
}

static void assert_terminal_as_before(void)
{
    struct termios now;

    assert_int_equal(tcgetattr(STDIN_FILENO, &now), 0);
    assert_int_equal(now.c_lflag, terminal.before.c_lflag);
    assert_int_equal(now.c_iflag, terminal.before.c_iflag);
    assert_int_equal(now.c_oflag, terminal.before.c_oflag);
    assert_int_equal(now.c_cflag, terminal.before.c_cflag);
    assert_memory_equal(now.c_cc, terminal.before.c_cc, sizeof now.c_cc);
}

/* Only what differs is sent, and yet the terminal always has the whole page; the same view again is
 * no byte; another size, or none at all (a plain serial line: 80 x 24), is drawn afresh. */
static void test_show(void **state)
{
    struct screen_view view = view_of_measuring();
    struct screen screen = {0};
    struct error e = {0};
    size_t before;

    (void)state;
    terminal_take(&terminal, 80, 24);
    assert_done(screen_open(&screen, true, &e), &e);
    assert_true(screen.is_terminal);
    assert_done(screen_show(&screen, &view, &e), &e);
    assert_shown(&view, "");
    before = terminal.n_bytes;
    assert_done(screen_show(&screen, &view, &e), &e);
    terminal_read(&terminal);
    assert_int_equal(terminal.n_bytes, before);
    view.n_done = 3;
    assert_done(screen_show(&screen, &view, &e), &e);
    assert_shown(&view, "");
    assert_in_range(terminal.n_bytes - before, 1, 110);
    terminal_size(&terminal, 40, 12);
    assert_done(screen_show(&screen, &view, &e), &e);
    assert_shown(&view, "");
    terminal_size(&terminal, 0, 0);
    view = view_of_failure();
    assert_done(screen_show(&screen, &view, &e), &e);
    assert_shown(&view, "");
    /* The cursor waits behind what is typed. */
    assert_int_equal(terminal.row, 22);
    assert_int_equal(terminal.column, 2);
    screen_close(&screen);
    assert_terminal_as_before();
    screen_close(&screen);
    terminal_give(&terminal);
}

/* After any series of views and sizes the terminal has the last page, whole. */
static void test_series(void **state)
{
    const unsigned seed = (unsigned)time(NULL);
    static const char *const words[] = {NULL, "short", "\033[2J hostile \x9B", "gain 21.3 dB"};
    struct screen screen = {0};
    struct error e = {0};

    (void)state;
    print_message("seed %u\n", seed);
    srandom(seed);
    terminal_take(&terminal, 80, 24);
    assert_done(screen_open(&screen, true, &e), &e);
    for (int i = 0; i < 150; i++) {
        struct screen_view view = random() % 2 ? view_of_failure() : view_of_measuring();

        if (random() % 5 == 0)
            terminal_size(&terminal, 1 + (int)random() % 199, 1 + (int)random() % 79);
        view.phase = (enum screen_phase)(random() % 5);
        view.verdict = (enum verdict)(random() % 3);
        view.instruction = words[random() % 4];
        view.message = words[random() % 4];
        view.reason = words[random() % 4];
        assert_done(screen_show(&screen, &view, &e), &e);
        assert_shown(&view, "");
    }
    screen_close(&screen);
    terminal_give(&terminal);
}

/* While it is taken over, the terminal shows no echo and gives each key at once; Ctrl-C is a signal
 * still, and no key suspends the program, ends it without a word or holds its output. */
static void test_taken_over(void **state)
{
    struct screen screen = {0};
    struct error e = {0};
    struct termios now;

    (void)state;
    terminal_take(&terminal, 80, 24);
    assert_done(screen_open(&screen, true, &e), &e);
    assert_int_equal(tcgetattr(STDIN_FILENO, &now), 0);
    assert_int_equal(now.c_lflag & (ECHO | ICANON | ISIG), ISIG);
    assert_int_equal(now.c_iflag & (ICRNL | IXON), 0);
    assert_int_equal(now.c_cc[VINTR], terminal.before.c_cc[VINTR]);
    assert_int_equal(now.c_cc[VSUSP], _POSIX_VDISABLE);
    assert_int_equal(now.c_cc[VQUIT], _POSIX_VDISABLE);
    screen_close(&screen);
    assert_terminal_as_before();
    terminal_give(&terminal);
}

/* A window that takes nothing holds nobody for longer than a second, and has the whole page once it
 * takes something again. */
static void test_frozen(void **state)
{
    struct screen_view view = view_of_failure();
    struct screen screen = {0};
    struct error e = {0};
    struct deadline late;
    char bytes[1024];
    int again;

    (void)state;
    terminal_take(&terminal, 80, 24);
    assert_done(screen_open(&screen, true, &e), &e);
    again = open(terminal.name, O_WRONLY | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    assert_true(again >= 0);
    memset(bytes, 'x', sizeof bytes);
    while (write(again, bytes, sizeof bytes) > 0)
        continue;
    while (write(again, bytes, 1) > 0)
        continue;
    late = deadline_in(10);
    assert_done(screen_show(&screen, &view, &e), &e);
    assert_false(deadline_passed(late));
    while (read(terminal.master, bytes, sizeof bytes) > 0)
        continue;
    assert_done(screen_show(&screen, &view, &e), &e);
    assert_shown(&view, "");
    (void)close(again);
    screen_close(&screen);
    terminal_give(&terminal);
}

/* A terminal that is gone is a wish to stop. */
static void test_gone(void **state)
{
    struct screen_view view = view_of_failure();
    struct screen screen = {0};
    struct error e = {0};

    (void)state;
    terminal_take(&terminal, 80, 24);
    assert_done(screen_open(&screen, true, &e), &e);
    (void)close(terminal.master);
    terminal.master = 0;
    assert_false(screen_show(&screen, &view, &e));
    assert_int_equal(e.kind, ERROR_STOPPED);
    assert_holds(e.text, "terminal is gone");
    screen_close(&screen);
    terminal_give(&terminal);
}

/* Shows a view on something that is no terminal, and gives the error's kind. */
static enum error_kind show_on(int fd)
{
    const struct screen_view view = view_of_failure();
    int output = fcntl(STDOUT_FILENO, F_DUPFD_CLOEXEC, 10);
    struct screen screen = {0};
    struct error e = {0};
    bool opened, shown;

    (void)fflush(stdout);
    assert_true(dup2(fd, STDOUT_FILENO) >= 0);
    opened = screen_open(&screen, true, &e);
    shown = opened && screen_show(&screen, &view, &e) && screen_show(&screen, &view, &e);
    screen_close(&screen);
    (void)dup2(output, STDOUT_FILENO);
    (void)close(output);
    assert_true(opened);
    assert_int_equal(shown, e.kind == ERROR_NONE);
    return e.kind;
}

/* Without a terminal the words go to standard output, once, with no escape sequence; a full disk is
 * an error, and a reader that is gone a wish to stop. */
static void test_plain(void **state)
{
    char said[2048] = "";
    int ends[2], full = open("/dev/full", O_WRONLY | O_CLOEXEC);

    (void)state;
    assert_true(signal(SIGPIPE, SIG_IGN) != SIG_ERR);
    assert_int_equal(pipe(ends), 0);
    assert_int_equal(show_on(ends[1]), ERROR_NONE);
    assert_true(read(ends[0], said, sizeof said - 1) > 0);
    assert_holds(said, "KW000101 attempt 1: FAIL\n");
    assert_holds(said, "next: Put the next board on");
    assert_null(strchr(said, '\033'));
    assert_null(strstr(strstr(said, "FAIL\n") + 1, "attempt 1: FAIL\n"));
    (void)close(ends[0]);
    assert_int_equal(show_on(ends[1]), ERROR_STOPPED);
    (void)close(ends[1]);
    assert_true(full >= 0);
    assert_int_equal(show_on(full), ERROR_STORE);
    (void)close(full);
}

/* A terminal that calls itself dumb gets lines and keeps its own settings. */
static void test_dumb(void **state)
{
    struct screen screen = {0};
    struct error e = {0};

    (void)state;
    terminal_take(&terminal, 80, 24);
    assert_int_equal(setenv("TERM", "dumb", 1), 0);
    assert_done(screen_open(&screen, true, &e), &e);
    assert_int_equal(setenv("TERM", "vt100", 1), 0);
    assert_false(screen.is_terminal);
    assert_terminal_as_before();
    screen_close(&screen);
    terminal_give(&terminal);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(test_show, give_terminal),
        cmocka_unit_test_teardown(test_series, give_terminal),
        cmocka_unit_test_teardown(test_taken_over, give_terminal),
        cmocka_unit_test_teardown(test_frozen, give_terminal),
        cmocka_unit_test_teardown(test_gone, give_terminal),
        cmocka_unit_test(test_plain),
        cmocka_unit_test_teardown(test_dumb, give_terminal),
    };

    if (setenv("TERM", "vt100", 1) != 0) return 1;
    return cmocka_run_group_tests(tests, NULL, NULL);
}
