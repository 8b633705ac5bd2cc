/* Progress: on a terminal only, after the first second, not too often, and wiped at the end. */
#include "tests/check.h"

#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <termios.h>
#include <unistd.h>

#include "runner/progress.h"

/* Standard error or output on a terminal of our own, or on a pipe. */
struct diversion {
    int fd, saved, reader;
};

static void divert(struct diversion *d, int fd, bool to_terminal)
{
    int ends[2];

    *d = (struct diversion){.fd = fd, .saved = dup(fd)};
    assert_true(d->saved >= 0);
    if (to_terminal) {
        struct termios mode;

        ends[0] = posix_openpt(O_RDWR | O_NOCTTY);
        assert_true(ends[0] >= 0);
        assert_int_equal(grantpt(ends[0]), 0);
        assert_int_equal(unlockpt(ends[0]), 0);
        ends[1] = open(ptsname(ends[0]), O_RDWR | O_NOCTTY);
        assert_true(ends[1] >= 0);
        assert_int_equal(tcgetattr(ends[1], &mode), 0);
        cfmakeraw(&mode);
        assert_int_equal(tcsetattr(ends[1], TCSANOW, &mode), 0);
    } else {
        assert_int_equal(pipe(ends), 0);
    }
    assert_true(dup2(ends[1], fd) >= 0);
    (void)close(ends[1]);
    d->reader = ends[0];
}

/* What was written since the last call. A terminal hands its bytes on a little later. */
static void written(const struct diversion *d, char out[200])
{
    size_t length = 0;
    struct pollfd reader = {.fd = d->reader, .events = POLLIN};

    while (length < 199 && poll(&reader, 1, 50) == 1) {
        ssize_t n = read(d->reader, out + length, 199 - length);

        if (n <= 0) break;
        length += (size_t)n;
    }
    out[length] = '\0';
}

static void undivert(struct diversion *d)
{
    assert_true(dup2(d->saved, d->fd) >= 0);
    (void)close(d->saved);
    (void)close(d->reader);
}

/* Reason: a log file or a pipe must stay free of progress. */
static void test_no_terminal(void **state)
{
    struct progress p;
    struct diversion d;
    char shown[200];

    (void)state;
    divert(&d, STDERR_FILENO, false);
    progress_start(&p, "judged", "units", 10);
    p.started_s -= 60;
    progress_show(&p, 5);
    progress_end(&p);
    written(&d, shown);
    undivert(&d);
    assert_string_equal(shown, "");
}

/* Reason: a task of less than a second shows nothing, and so has nothing to wipe. */
static void test_first_second(void **state)
{
    struct progress p;
    struct diversion d;
    char shown[200];

    (void)state;
    divert(&d, STDERR_FILENO, true);
    progress_start(&p, "judged", "units", 10);
    progress_show(&p, 5);
    progress_end(&p);
    written(&d, shown);
    undivert(&d);
    assert_string_equal(shown, "");
}

/* Reason: the words, the time left (half done in 10 s leaves 10 s), at most five times a second,
 * and the line wiped once. */
static void test_shows(void **state)
{
    struct progress p;
    struct diversion d;
    char shown[4][200];

    (void)state;
    divert(&d, STDERR_FILENO, true);
    progress_start(&p, "judged", "units", 10);
    p.started_s -= 10;
    progress_show(&p, 5);
    progress_show(&p, 6);
    written(&d, shown[0]);
    p.shown_s -= 0.2;
    progress_show(&p, 0);
    written(&d, shown[1]);
    progress_end(&p);
    written(&d, shown[2]);
    progress_end(&p);
    written(&d, shown[3]);
    undivert(&d);
    assert_string_equal(shown[0], "\rjudged 5 of 10 units, about 10 s left   ");
    assert_string_equal(shown[1], "\rjudged 0 of 10 units");
    assert_string_equal(shown[2], "\r\033[K");
    assert_string_equal(shown[3], "");
}

/* Reason: colours for a terminal only, and not for who sets NO_COLOR to anything (an empty one
 * does not count: common practice). */
static void test_colour(void **state)
{
    struct diversion d;
    bool on_pipe, on_terminal, refused, empty;

    (void)state;
    (void)fflush(stdout);
    (void)unsetenv("NO_COLOR");
    divert(&d, STDOUT_FILENO, false);
    on_pipe = colour_wanted();
    undivert(&d);
    divert(&d, STDOUT_FILENO, true);
    on_terminal = colour_wanted();
    (void)setenv("NO_COLOR", "0", 1);
    refused = colour_wanted();
    (void)setenv("NO_COLOR", "", 1);
    empty = colour_wanted();
    undivert(&d);
    assert_false(on_pipe);
    assert_true(on_terminal);
    assert_false(refused);
    assert_true(empty);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_no_terminal),
        cmocka_unit_test(test_first_second),
        cmocka_unit_test(test_shows),
        cmocka_unit_test(test_colour),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
