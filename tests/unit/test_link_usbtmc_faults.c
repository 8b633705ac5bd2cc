/* What goes wrong around the messages of a USB instrument: opening, a clear without end, stopping.
 */
#include "drivers/link_usbtmc.h"

#include <pthread.h>
#include <signal.h>

#include "drivers/base/stop.h"
#include "tests/tree.h"
#include "tests/usbtmc_device.h"

/* Some firmware never leaves a device clear, and the driver waits for it. The caller's deadline
 * holds all the same, the link is given up, and nothing is freed under the call that still runs. */
static void test_clear_never_ends(void **state)
{
    const struct deadline start = deadline_in(100);
    struct error e = {0};
    struct link *link;
    double took_s;

    (void)state;
    device_make();
    link = must_open();
    device.clear_hangs = true;
    assert_false(link_clear(link, deadline_in(0.3), &e));
    took_s = 100 - deadline_left_s(start);
    assert_true(took_s >= 0.29 && took_s < 0.45);
    assert_int_equal(link->fault, LINK_GONE);
    assert_holds(e.text, "does not come out of a device clear: switch it off and on");
    check_fails(link, 5, LINK_GONE, "", 0, 0.1);
    link_close(link);
    device.clear_hangs = false;
    for (int tries = 0; device.ended_threads == 0 && tries < 200; tries++)
        deadline_sleep(deadline_in(0.01));
    assert_int_equal(device.ended_threads, 1);
    deadline_sleep(deadline_in(0.05)); /* the thread frees what it holds */
    device_end();
}

/* A clear empties the device, and the next answer belongs to the next question. */
static void test_clear(void **state)
{
    struct link *link;

    (void)state;
    device_make();
    link = must_open();
    device_says(END, "stale", 5);
    must_clear(link);
    assert_int_equal(device.clears, 1);
    assert_int_equal(device.aborts_in + device.aborts_out, 0);
    device_says(END, "fresh", 5);
    check_receives(link, "fresh", 5);
    link_close(link);
    device_end();
}

/* Two programs would mix their messages, and the driver lets both in. */
static void test_exclusive(void **state)
{
    struct tree *tree = *state;
    struct error e = {0};
    struct link *link;

    device_make();
    tree_write(tree, "device", "");
    /* The calls take any path beginning with '/' for a file, which has a lock at each opening; no
     * byte moves here. */
    device.is_file = true;
    link = open_path(tree_path(tree, "device"), &e);
    assert_done(link != NULL, &e);
    assert_null(open_path(tree_path(tree, "device"), &e));
    assert_holds(e.text, "in use by another program");
    assert_int_equal(e.kind, ERROR_BENCH);
    link_close(link);
    e = (struct error){0};
    link = open_path(tree_path(tree, "device"), &e);
    assert_done(link != NULL, &e);
    link_close(link);
    device_end();
}

/* Opening must fail with the port's name and `words`, by the system's own calls. */
static void check_refused(const char *port, enum error_kind kind, const char *words)
{
    struct error e = {0};

    assert_null(link_open(port, NULL, deadline_in(1), &e));
    assert_holds(e.text, port);
    assert_holds(e.text, words);
    assert_int_equal(e.kind, kind);
}

/* What is no USB instrument is named as such; settings have no meaning; a driver that cannot tell
 * the end of a message or take a time-out would give half answers or waits without end. */
static void test_refused(void **state)
{
    struct tree *tree = *state;
    char port[sizeof tree->path + 8];
    struct error e = {0};

    check_refused("usbtmc:/dev/no-such-usbtmc", ERROR_BENCH, "not there");
    check_refused("usbtmc:/dev/null", ERROR_BENCH, "not a USB instrument");
    check_refused("usbtmc:/dev", ERROR_BENCH, "not a USB instrument");
    tree_write(tree, "file", "");
    (void)snprintf(port, sizeof port, "usbtmc:%s", tree_path(tree, "file"));
    check_refused(port, ERROR_BENCH, "not a USB instrument");
    check_refused("usbtmc:/dev/usbtmc0?baud=9600", ERROR_USAGE, "no settings");
    assert_false(link_check_port("usbtmc:/dev/usbtmc0?x", &e));
    e = (struct error){0};
    assert_done(link_check_port("usbtmc:/dev/usbtmc0", &e), &e);

    device_make();
    device.version = 1;
    assert_null(open_path("the device", &e));
    assert_holds(e.text, "Linux is too old");
    device.version = 3;
    device.api_errno = ENOTTY;
    e = (struct error){0};
    assert_null(open_path("the device", &e));
    assert_holds(e.text, "not a USB instrument");
    device_end();
}

/* When the time-out cannot be set, no call is begun that would end when it likes. */
static void test_timeout_cannot_be_set(void **state)
{
    struct error e = {0};
    struct link *link;

    (void)state;
    device_make();
    link = must_open();
    device.timeout_errno = EINVAL;
    assert_false(link_send(link, "*IDN?\n", 6, deadline_in(1), &e));
    assert_holds(e.text, "setting the time-out failed");
    assert_false(device_has(device.instrument, 0));
    device_says(END, "x", 1);
    check_fails(link, 1, LINK_OTHER, "setting the time-out failed", 0, 0.1);
    assert_int_equal(device.reads, 0);
    link_close(link);
    device_end();
}

/* Each allocation that fails is ERROR_MEMORY; a clear that finds none leaves the link as it was. */
static void test_no_memory(void **state)
{
    struct link *link = NULL;
    struct error e = {0};
    unsigned long nth;

    (void)state;
    device_make();
    for (nth = 1; nth < 20 && !link; nth++) {
        e = (struct error){0};
        memory_fail_at(nth);
        link = open_path("the device", &e);
        memory_fail_at(0);
        assert_true(link || e.kind == ERROR_MEMORY);
    }
    assert_true(link && nth > 4);
    memory_fail_at(1);
    assert_false(link_clear(link, deadline_in(1), &e));
    memory_fail_at(0);
    assert_int_equal(e.kind, ERROR_MEMORY);
    must_clear(link);
    link_close(link);
    device_end();
}

static void *interrupt_soon(void *thread)
{
    deadline_sleep(deadline_in(0.1));
    (void)pthread_kill(*(pthread_t *)thread, SIGINT);
    return NULL;
}

/* Ctrl-C ends the wait for an answer at once. Whoever switches off afterwards still gets messages
 * out and answers in. Runs last: the wish to stop stays. */
static void test_stop(void **state)
{
    const struct deadline start = deadline_in(100);
    pthread_t self = pthread_self(), thread;
    struct text got = {0};
    struct error e = {0};
    struct link *link;

    (void)state;
    device_make();
    link = must_open();
    stop_listen();
    assert_int_equal(pthread_create(&thread, NULL, interrupt_soon, &self), 0);
    assert_false(link_receive(link, frame_to_end, NULL, 100, &got, deadline_in(5), &e));
    assert_int_equal(e.kind, ERROR_STOPPED);
    assert_true(deadline_left_s(start) > 99.6);
    assert_int_equal(pthread_join(thread, NULL), 0);
    e = (struct error){0};
    assert_done(link_send(link, "OUTP 0\n", 7, deadline_in(1), &e), &e);
    link->ignores_stop = true;
    device_says(END, "0\n", 2);
    check_receives(link, "0\n", 2);
    check_fails(link, 0.2, LINK_TIMEOUT, "no answer", 0.19, 0.35);
    must_clear(link);
    text_clear(&got);
    link_close(link);
    device_end();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_clear_never_ends),
        cmocka_unit_test(test_clear),
        cmocka_unit_test_setup_teardown(test_exclusive, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_refused, tree_make, tree_remove),
        cmocka_unit_test(test_timeout_cannot_be_set),
        cmocka_unit_test(test_no_memory),
        cmocka_unit_test(test_stop),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
