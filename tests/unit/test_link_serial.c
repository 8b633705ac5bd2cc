/* Runs twice: first on bare pseudo-terminals, which link_serial.c opens raw, then anew with
 * tests/pty_shim.c preloaded, where the same ptys pass through the real libserialport. */
#include "drivers/link.h"

#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>

#include "drivers/base/memory.h"
#include "tests/serial_pty.h"
#include "tests/tree.h"

static struct link *must_open(const char *port, const struct link_line *line)
{
    struct error e = {0};
    struct link *link = link_open(port, line, deadline_in(2), &e);

    assert_done(link != NULL, &e);
    return link;
}

/* Opening must fail with the port's name and `words`. */
static void check_refused(const char *port, enum error_kind kind, const char *words)
{
    struct error e = {0};
    struct link *link = link_open(port, NULL, deadline_in(2), &e);

    assert_null(link);
    assert_holds(e.text, words);
    assert_holds(e.text, port);
    assert_int_equal(e.kind, kind);
}

static struct termios settings(int fd)
{
    struct termios t;

    assert_int_equal(tcgetattr(fd, &t), 0);
    return t;
}

/* What the shim keeps; NULL without it. */
static int *shim(const char *name)
{
    return dlsym(RTLD_DEFAULT, name);
}

static size_t frame_of_256(void *context, const char *bytes, size_t n, bool ended, struct error *e)
{
    (void)context, (void)bytes, (void)ended, (void)e;
    return n >= 256 ? 256 : 0;
}

/* Terminals are born cooked, with echo and XON/XOFF; whoever had the port before may have left
 * more. All that would change, eat or answer bytes is off afterwards. */
static void test_settings(void **state)
{
    struct pty pty;
    struct link *link;
    struct termios t;
    int before, exclusive = 0;

    (void)state;
    pty_make(&pty, "");
    before = open(pty.name, O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(before >= 0);
    t = settings(before);
    assert_true(t.c_iflag & IXON && t.c_lflag & ECHO && t.c_lflag & ICANON && t.c_oflag & OPOST);
    t.c_iflag |= IXOFF | IXANY | ISTRIP | IGNCR | PARMRK | IGNPAR;
    t.c_cflag |= HUPCL | CRTSCTS;
    t.c_cc[VMIN] = 0;
    t.c_cc[VTIME] = 3;
    assert_int_equal(tcsetattr(before, TCSANOW, &t), 0);

    link = must_open(pty.port, NULL);
    t = settings(link->descriptor);
    assert_int_equal(t.c_iflag, INPCK);
    assert_int_equal(t.c_oflag & OPOST, 0);
    assert_int_equal(t.c_lflag & (ECHO | ECHONL | ICANON | ISIG | IEXTEN), 0);
    assert_int_equal(t.c_cflag & (HUPCL | CRTSCTS), 0);
    assert_int_equal(t.c_cflag & (CSIZE | PARENB | CSTOPB), CS8);
    assert_true(t.c_cflag & CREAD && t.c_cflag & CLOCAL);
    assert_int_equal(t.c_cc[VMIN], 1);
    assert_int_equal(t.c_cc[VTIME], 0);
    assert_true(fcntl(link->descriptor, F_GETFD) & FD_CLOEXEC);
    assert_true(fcntl(link->descriptor, F_GETFL) & O_NONBLOCK);
    assert_int_equal(ioctl(link->descriptor, TIOCGEXCL, &exclusive), 0);
    assert_true(exclusive);
    assert_false(link->message_ends);
    assert_int_equal(link->line.baud, 9600);
    assert_int_equal(link->line.data_bits, 8);
    link_close(link);
    /* While somebody else has it open, the kernel forgets nothing by itself. */
    assert_int_equal(ioctl(before, TIOCGEXCL, &exclusive), 0);
    assert_false(exclusive);
    (void)close(before);
    (void)close(pty.master);
}

/* The library reports success for RTS/CTS and sets something else: the flag itself is looked at.
 * The port's own words win over the profile's, word by word. */
static void test_flow_control(void **state)
{
    const struct link_line profile = {.baud = 19200, .stop_bits = 2, .rts_cts = true};
    struct pty pty;
    struct link *link;

    (void)state;
    pty_make(&pty, "?flow=rtscts");
    link = must_open(pty.port, NULL);
    assert_true(settings(link->descriptor).c_cflag & CRTSCTS);
    assert_int_equal(settings(link->descriptor).c_iflag & (IXON | IXOFF), 0);
    link_close(link);

    (void)snprintf(pty.port, sizeof pty.port, "serial:%s", pty.name);
    link = must_open(pty.port, &profile);
    assert_true(settings(link->descriptor).c_cflag & CRTSCTS);
    assert_int_equal(link->line.baud, 19200);
    link_close(link);

    (void)snprintf(pty.port, sizeof pty.port, "serial:%s?flow=none&baud=115200", pty.name);
    link = must_open(pty.port, &profile);
    assert_int_equal(settings(link->descriptor).c_cflag & CRTSCTS, 0);
    assert_false(link->line.rts_cts);
    assert_int_equal(link->line.baud, 115200);
    assert_int_equal(link->line.stop_bits, 2);
    link_close(link);
    (void)close(pty.master);
}

/* Every byte passes both ways as it is: 0x11 and 0x13 are not taken as flow control, 0x03 ends
 * nothing, 0x0A and 0x0D are not exchanged, 0xFF is not doubled, and nothing is echoed. */
static void test_every_byte(void **state)
{
    struct text got = {0};
    struct error e = {0};
    char all[256], seen[512];
    struct pty pty;
    struct link *link;
    size_t n = 0;

    (void)state;
    for (size_t i = 0; i < sizeof all; i++)
        all[i] = (char)i;
    pty_make(&pty, "");
    link = must_open(pty.port, NULL);
    assert_int_equal(write(pty.master, all, sizeof all), sizeof all);
    assert_done(link_receive(link, frame_of_256, NULL, 256, &got, deadline_in(2), &e), &e);
    assert_int_equal(got.length, 256);
    assert_memory_equal(got.data, all, 256);

    /* A lone 0x13 came last of all flow bytes: output must not be held. */
    assert_int_equal(write(pty.master, "\x13", 1), 1);
    assert_done(link_send(link, all, sizeof all, deadline_in(2), &e), &e);
    assert_int_equal(fcntl(pty.master, F_SETFL, O_NONBLOCK), 0);
    for (int tries = 0; n < 256 && tries < 200; tries++) {
        const ssize_t more = read(pty.master, seen + n, sizeof seen - n);

        if (more > 0) n += (size_t)more;
        if (more < 0) deadline_sleep(deadline_in(0.005));
    }
    assert_int_equal(n, 256);
    assert_memory_equal(seen, all, 256);
    assert_int_equal(read(pty.master, seen, sizeof seen), -1);
    text_clear(&got);
    link_close(link);
    (void)close(pty.master);
}

/* Tries the port in another process. Told by a pipe: valgrind has a say in the exit status. */
static bool in_use_elsewhere(const char *port)
{
    int ends[2];
    pid_t child;
    char told = '?';

    assert_int_equal(pipe(ends), 0);
    child = fork();
    if (child == 0) {
        struct error e = {0};
        struct link *link = link_open(port, NULL, deadline_in(1), &e);
        const char *words = !link && strstr(e.text, "in use by another program") ? "y" : "n";

        _exit(write(ends[1], words, 1) != 1);
    }
    assert_true(child > 0 && waitpid(child, NULL, 0) == child);
    assert_int_equal(read(ends[0], &told, 1), 1);
    (void)close(ends[0]);
    (void)close(ends[1]);
    return told == 'y';
}

/* Two programs on one line mix their bytes. The second is refused, here and in another process, and
 * leaves the first one's settings alone; a lock of any other program counts too. */
static void test_exclusive(void **state)
{
    struct pty pty;
    struct link *link;
    int other;

    (void)state;
    pty_make(&pty, "?flow=rtscts");
    link = must_open(pty.port, NULL);
    (void)snprintf(pty.port, sizeof pty.port, "serial:%s", pty.name);
    check_refused(pty.port, ERROR_BENCH, "in use by another program");
    assert_true(in_use_elsewhere(pty.port));
    assert_true(settings(link->descriptor).c_cflag & CRTSCTS);
    link_close(link);

    other = open(pty.name, O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(other >= 0);
    assert_int_equal(flock(other, LOCK_EX | LOCK_NB), 0);
    check_refused(pty.port, ERROR_BENCH, "in use by another program");
    assert_true(settings(other).c_cflag & CRTSCTS);
    (void)close(other);

    link = must_open(pty.port, NULL);
    link_close(link);
    other = open(pty.name, O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(other >= 0); /* nothing of ours keeps others out afterwards */
    assert_int_equal(flock(other, LOCK_EX | LOCK_NB), 0);
    (void)close(other);
    (void)close(pty.master);
}

static void *hang_up_soon(void *master)
{
    deadline_sleep(deadline_in(0.1));
    (void)close(*(int *)master);
    return NULL;
}

/* Receiving must end within a moment and without spinning. */
static void check_gone(struct link *link)
{
    const clock_t cpu = clock();
    const struct deadline deadline = deadline_in(5);
    struct text got = {0};
    struct error e = {0};

    assert_false(link_receive(link, frame_of_256, NULL, 256, &got, deadline, &e));
    assert_int_equal(link->fault, LINK_GONE);
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, link->port);
    assert_true(deadline_left_s(deadline) > 4);
    assert_true(clock() - cpu < CLOCKS_PER_SEC / 4);
    text_clear(&got);
}

/* A pulled adapter hangs the terminal up, as a closed master does: seen at once, before a wait and
 * within one, when sending too, and for good. The library's own read spins here. */
static void test_hang_up(void **state)
{
    struct error e = {0};
    pthread_t thread;
    struct pty pty;
    struct link *link;

    (void)state;
    pty_make(&pty, "");
    link = must_open(pty.port, NULL);
    (void)close(pty.master);
    check_gone(link);
    check_gone(link);
    link_close(link);

    pty_make(&pty, "");
    link = must_open(pty.port, NULL);
    assert_int_equal(write(pty.master, "half", 4), 4);
    assert_int_equal(pthread_create(&thread, NULL, hang_up_soon, &pty.master), 0);
    check_gone(link);
    assert_int_equal(pthread_join(thread, NULL), 0);
    link_close(link);

    pty_make(&pty, "");
    link = must_open(pty.port, NULL);
    (void)close(pty.master);
    assert_false(link_send(link, "*IDN?\n", 6, deadline_in(5), &e));
    assert_int_equal(link->fault, LINK_GONE);
    link_close(link);
}

/* The steady names of /dev/serial/by-id are links, which the library's 0.1.1 refuses. They lead to
 * the port; messages keep the name that the user wrote. */
static void test_link_by_id(void **state)
{
    struct tree *tree = *state;
    char port[sizeof tree->path + 8];
    struct error e = {0};
    struct pty pty;
    struct link *link;

    pty_make(&pty, "");
    assert_int_equal(symlink(pty.name, tree_path(tree, "usb-supply-if00")), 0);
    (void)snprintf(port, sizeof port, "serial:%s", tree_path(tree, "usb-supply-if00"));
    if (shim("pty_shim_calls")) *shim("pty_shim_calls") = 0;
    link = must_open(port, NULL);
    if (shim("pty_shim_calls")) assert_true(*shim("pty_shim_calls") > 0); /* by the library */
    check_refused(pty.port, ERROR_BENCH, "in use by another program");
    check_refused(port, ERROR_BENCH, "in use by another program");
    (void)close(pty.master);
    assert_false(link_send(link, "a", 1, deadline_in(1), &e));
    assert_holds(e.text, port);
    assert_null(strstr(e.text, pty.name));
    link_close(link);
    check_refused(port, ERROR_BENCH, "not there"); /* the link leads nowhere now */
}

/* What is no serial port is named as such. */
static void test_no_port(void **state)
{
    struct tree *tree = *state;
    char port[sizeof tree->path + 8];

    check_refused("serial:/dev/no-such-port", ERROR_BENCH, "not there");
    check_refused("serial:/dev/null", ERROR_BENCH, "not a serial port");
    check_refused("serial:/dev", ERROR_BENCH, "not a serial port");
    assert_int_equal(mkfifo(tree_path(tree, "pipe"), 0600), 0);
    (void)snprintf(port, sizeof port, "serial:%s", tree_path(tree, "pipe"));
    check_refused(port, ERROR_BENCH, "not a serial port");
}

/* The library prints when an environment variable is set: never over the operator's screen. */
static void test_silence(void **state)
{
    struct tree *tree = *state;
    const int saved = dup(STDERR_FILENO);
    const int file = open(tree_path(tree, "stderr"), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    struct stat status;
    struct pty pty;
    struct link *link;

    assert_true(saved >= 0 && file >= 0);
    pty_make(&pty, "?baud=19200");
    (void)setenv("LIBSERIALPORT_DEBUG", "1", 1);
    assert_true(dup2(file, STDERR_FILENO) >= 0);
    link = must_open(pty.port, NULL);
    link_close(link);
    assert_true(dup2(saved, STDERR_FILENO) >= 0);
    (void)unsetenv("LIBSERIALPORT_DEBUG");
    assert_int_equal(fstat(file, &status), 0);
    assert_int_equal(status.st_size, 0);
    (void)close(saved);
    (void)close(file);
    (void)close(pty.master);
}

/* Each allocation that fails is ERROR_MEMORY, and the port is free afterwards. */
static void test_no_memory(void **state)
{
    struct pty pty;

    (void)state;
    pty_make(&pty, "?baud=9600");
    for (unsigned long nth = 1; nth < 20; nth++) {
        struct error e = {0};
        struct link *link;

        memory_fail_at(nth);
        link = link_open(pty.port, NULL, deadline_in(1), &e);
        memory_fail_at(0);
        if (link) {
            link_close(link);
            assert_true(nth > 1);
            (void)close(pty.master);
            return;
        }
        assert_int_equal(e.kind, ERROR_MEMORY);
    }
    fail();
}

/* Through the library: rates that termios has no name for, and the modem lines, which are on from
 * opening to after closing and never go down in between (a board that resets by DTR would). */
static void test_library_rate_and_lines(void **state)
{
    unsigned (*baud)(int);
    void *found = dlsym(RTLD_DEFAULT, "pty_shim_baud");
    struct pty pty;
    struct link *link;

    (void)state;
    assert_non_null(found);
    memcpy(&baud, &found, sizeof found);
    *shim("pty_shim_calls") = 0;
    *shim("pty_shim_drops") = 0;
    pty_make(&pty, "?baud=250000&stop=2");
    link = must_open(pty.port, NULL);
    assert_true(*shim("pty_shim_calls") > 0); /* it was the library */
    assert_int_equal(baud(link->descriptor), 250000);
    assert_true(settings(link->descriptor).c_cflag & CSTOPB);
    link_close(link);
    assert_int_equal(*shim("pty_shim_drops"), 0);
    assert_int_equal(*shim("pty_shim_lines"), TIOCM_DTR | TIOCM_RTS);
    *shim("pty_shim_lines") = 0; /* a program before us has put them down */
    (void)snprintf(pty.port, sizeof pty.port, "serial:%s?baud=115200&flow=rtscts", pty.name);
    link = must_open(pty.port, NULL);
    assert_int_equal(baud(link->descriptor), 115200);
    assert_int_equal(*shim("pty_shim_lines"), TIOCM_DTR | TIOCM_RTS);
    link_close(link);
    (void)close(pty.master);
}

/* The kernel keeps ptys at 8 bits without parity and reports success: only reading back tells. A
 * port that does not take the framing would clip every block. */
static void test_library_framing_refused(void **state)
{
    struct pty pty;

    (void)state;
    pty_make(&pty, "?data=7");
    check_refused(pty.port, ERROR_BENCH, "does not take 9600 baud, 7 data bits, parity \"n\"");
    (void)snprintf(pty.port, sizeof pty.port, "serial:%s?parity=even", pty.name);
    check_refused(pty.port, ERROR_BENCH, "does not take 9600 baud, 8 data bits, parity \"e\"");
    (void)snprintf(pty.port, sizeof pty.port, "serial:%s", pty.name);
    link_close(must_open(pty.port, NULL)); /* the refusals gave the port back */
    (void)close(pty.master);
}

/* Bytes that flow control holds back for ever must not hold the end of the program. */
static void test_library_close_is_bounded(void **state)
{
    const struct deadline deadline = deadline_in(10);
    struct pty pty;
    struct link *link;
    double took_s;

    (void)state;
    pty_make(&pty, "");
    link = must_open(pty.port, NULL);
    *shim("pty_shim_held_back") = 6;
    link_close(link);
    *shim("pty_shim_held_back") = 0;
    took_s = 10 - deadline_left_s(deadline);
    assert_true(took_s > 1.5 && took_s < 4); /* a last "off" gets its time */
    (void)close(pty.master);
}

/* Starts this program anew with the library of tests/pty_shim.c before all others. */
static int run_with_shim(char **arguments)
{
    const char *slash = strrchr(arguments[0], '/');
    const char *sanitizer = getenv("ASAN_OPTIONS");
    char path[PATH_MAX], real[PATH_MAX], options[1024];

    (void)snprintf(path, sizeof path, "%.*s../pty_shim.so",
                   slash ? (int)(slash + 1 - arguments[0]) : 0, arguments[0]);
    if (!realpath(path, real)) {
        print_error("%s is missing: make builds it with this test\n", path);
        return 1;
    }
    (void)setenv("LD_PRELOAD", real, 1);
    /* The address sanitizer wants to be first, but does its work behind the shim too. */
    (void)snprintf(options, sizeof options, "%s:verify_asan_link_order=0",
                   sanitizer ? sanitizer : "");
    (void)setenv("ASAN_OPTIONS", options, 1);
    (void)execv(arguments[0], arguments);
    print_error("%s cannot be started anew: %s\n", arguments[0], strerror(errno));
    return 1;
}

#define COMMON_TESTS                                                         \
    cmocka_unit_test(test_settings), cmocka_unit_test(test_flow_control),    \
        cmocka_unit_test(test_every_byte), cmocka_unit_test(test_exclusive), \
        cmocka_unit_test(test_hang_up), cmocka_unit_test(test_link_by_id),   \
        cmocka_unit_test(test_no_port), cmocka_unit_test(test_silence),      \
        cmocka_unit_test(test_no_memory)

int main(int n_arguments, char **arguments)
{
    const struct CMUnitTest bare[] = {COMMON_TESTS};
    const struct CMUnitTest library[] = {COMMON_TESTS,
                                         cmocka_unit_test(test_library_rate_and_lines),
                                         cmocka_unit_test(test_library_framing_refused),
                                         cmocka_unit_test(test_library_close_is_bounded)};
    int failed;

    (void)n_arguments;
    if (shim("pty_shim_lines"))
        return cmocka_run_group_tests_name("through the library", library, tree_make, tree_remove);
    failed = cmocka_run_group_tests_name("bare", bare, tree_make, tree_remove);
    return failed ? failed : run_with_shim(arguments);
}
