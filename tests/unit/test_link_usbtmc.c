#include "drivers/link_usbtmc.h"

#include <pthread.h>

#include "tests/usbtmc_device.h"

/* One message is one write, whatever its length; opening says nothing at all. */
static void test_one_message_one_write(void **state)
{
    char sent[3000], seen[8192];
    struct error e = {0};
    struct link *link;

    (void)state;
    device_make();
    link = must_open();
    assert_true(link->message_ends);
    assert_false(device_has(device.instrument, 0));
    assert_int_equal(device.looks + device.reads + device.clears, 0);
    memset(sent, 'x', sizeof sent);
    assert_done(link_send(link, sent, sizeof sent, deadline_in(1), &e), &e);
    assert_done(link_send(link, "*OPC?\n", 6, deadline_in(1), &e), &e);
    assert_int_equal(recv(device.instrument, seen, sizeof seen, 0), sizeof sent);
    assert_memory_equal(seen, sent, sizeof sent);
    assert_int_equal(recv(device.instrument, seen, sizeof seen, 0), 6);
    link_close(link);
    device_end();
}

/* A short transfer is not the end of an answer, nor is a line end in it: only the attribute is. A
 * transfer longer than what is asked for comes in pieces. */
static void test_until_end_of_message(void **state)
{
    char block[6000], all[6009];
    struct link *link;

    (void)state;
    device_make();
    link = must_open();
    device_says(MORE, "1.0,", 4);
    device_says(MORE, "2\n", 2);
    device_says(END, "3", 1);
    device_says(END, "next", 4);
    check_receives(link, "1.0,2\n3", 7);
    check_receives(link, "next", 4);

    for (size_t i = 0; i < sizeof block; i++)
        block[i] = (char)i;
    device_says(MORE, "#46000", 6);
    device_says(MORE, block, sizeof block);
    device_says(END, "\n\n\n", 3);
    memcpy(all, "#46000", 6);
    memcpy(all + 6, block, sizeof block);
    memcpy(all + 6006, "\n\n\n", 3);
    check_receives(link, all, sizeof all);
    link_close(link);
    device_end();
}

static void *answer_late(void *unused)
{
    deadline_sleep(deadline_in(0.15));
    device_says(END, "late", 4);
    return unused;
}

/* No read is begun before the status byte tells of an answer: it would cost a time-out and an
 * aborted transfer. Without an answer the call ends at its deadline. */
static void test_waits_by_status(void **state)
{
    struct error e = {0};
    pthread_t thread;
    struct link *link;
    size_t n;

    (void)state;
    device_make();
    link = must_open();
    check_fails(link, 0.3, LINK_TIMEOUT, "no answer within 0.30 s", 0.29, 0.45);
    assert_int_equal(device.reads, 0);
    assert_int_equal(device.aborts_in, 0);
    assert_true(device.looks >= 5 && device.looks < 100);
    assert_int_equal(pthread_create(&thread, NULL, answer_late, NULL), 0);
    check_receives(link, "late", 4);
    assert_int_equal(pthread_join(thread, NULL), 0);
    assert_int_equal(device.reads, 1);
    /* A busy device does not answer for its status either: that is no fault. */
    device.status_errno = ETIMEDOUT;
    check_fails(link, 0.2, LINK_TIMEOUT, "no answer", 0.19, 0.35);
    device.status_errno = 0;
    /* Silence is found without a read; what is there is thrown away. */
    device_says(END, "stale", 5);
    assert_done(link_drain(link, 0.1, &n, deadline_in(1), &e), &e);
    assert_int_equal(n, 5);
    assert_int_equal(device.reads, 2);
    link_close(link);
    device_end();
}

/* The driver's time-out is what is left until the deadline where the status byte cannot tell: the
 * plain class has none, some firmware stalls, and one driver succeeds without storing it. A read
 * that timed out is aborted before anything else happens. */
static void check_without_status(void)
{
    struct error e = {0};
    struct link *link = must_open();
    char seen[16];
    size_t n;

    device_says(END, "yes", 3);
    check_receives(link, "yes", 3);
    assert_true(device.timeout_ms > 1900 && device.timeout_ms <= 2000);
    assert_true(device.looks <= 1);
    check_fails(link, 0.3, LINK_TIMEOUT, "no answer within", 0.29, 0.45);
    assert_true(device.timeout_ms > 250 && device.timeout_ms <= 300);
    assert_int_equal(device.reads, 2);
    assert_int_equal(device.aborts_in, 0);
    assert_done(link_send(link, "*CLS\n", 5, deadline_in(1), &e), &e);
    assert_int_equal(device.aborts_in, 1);
    assert_int_equal(recv(device.instrument, seen, sizeof seen, 0), 5);
    /* Less than the driver can count: as little as it can. */
    assert_done(link_drain(link, 0.02, &n, deadline_in(1), &e), &e);
    assert_int_equal(device.timeout_ms, 100);
    /* An abort that the firmware does not know becomes a clear. */
    device.abort_errno = EPERM;
    assert_done(link_send(link, "*CLS\n", 5, deadline_in(1), &e), &e);
    assert_int_equal(device.aborts_in, 2);
    assert_int_equal(device.clears, 1);
    link_close(link);
    device_end();
}

static void test_without_status(void **state)
{
    (void)state;
    device_make();
    device.abilities = 0;
    check_without_status();
    device_make();
    device.status_errno = EPIPE;
    check_without_status();
    device_make();
    device.status_is_not_stored = true;
    check_without_status();
}

/* A read of 0 bytes is how the driver tells of a broken header: neither an end nor silence. After a
 * clear the next exchange is sound. */
static void test_broken_transfer(void **state)
{
    struct link *link;

    (void)state;
    device_make();
    link = must_open();
    device_says(BROKEN, "", 0);
    check_fails(link, 1, LINK_OTHER, "broke the USBTMC protocol", 0, 0.3);
    device_says(END, "left over", 9);
    must_clear(link);
    assert_int_equal(device.aborts_in, 1);
    assert_int_equal(device.clears, 1);
    device_says(MORE, "part,", 5);
    device_says(BROKEN, "", 0);
    check_fails(link, 1, LINK_OTHER, "broke the USBTMC protocol", 0, 0.3);
    must_clear(link);
    device_says(END, "good", 4);
    check_receives(link, "good", 4);
    link_close(link);
    device_end();
}

/* An answer without an end of message: what came is told, at the deadline and not later. */
static void test_no_end_of_message(void **state)
{
    struct link *link;

    (void)state;
    device_make();
    link = must_open();
    device_says(MORE, "1.0,2.0", 7);
    check_fails(link, 0.3, LINK_TIMEOUT, "7 bytes came (\"1.0,2.0\")", 0.29, 0.45);
    must_clear(link);
    assert_int_equal(device.aborts_in, 1);
    device_says(END, "good", 4);
    check_receives(link, "good", 4);
    link_close(link);
    device_end();
}

/* A message of which a part went out is never continued: the rest would be a message of its own,
 * and "SOUR:POW -2" of "-20" is 18 dB too much. The cut transfer is aborted before the next one. */
static void test_sending_is_cut_off(void **state)
{
    struct error e = {0};
    struct link *link;
    char seen[64];

    (void)state;
    device_make();
    link = must_open();
    device.write_takes = 11;
    assert_false(link_send(link, "SOUR:POW -20\n", 13, deadline_in(1), &e));
    assert_int_equal(link->fault, LINK_TIMEOUT);
    assert_holds(e.text, "took 11 of 13 bytes");
    device.write_takes = 0;
    device.write_errno = ETIMEDOUT;
    e = (struct error){0};
    assert_false(link_send(link, "OUTP 0\n", 7, deadline_in(0.3), &e));
    assert_int_equal(link->fault, LINK_TIMEOUT);
    assert_true(device.timeout_ms > 200 && device.timeout_ms <= 300);
    assert_int_equal(device.aborts_out, 1);
    device.write_errno = 0;
    e = (struct error){0};
    assert_done(link_send(link, "OUTP 0\n", 7, deadline_in(1), &e), &e);
    assert_int_equal(device.aborts_out, 2);
    assert_int_equal(recv(device.instrument, seen, sizeof seen, 0), 7);
    /* After the deadline nothing goes out, but the device is not given up: an abort has its own
     * time. */
    device.write_errno = ETIMEDOUT;
    e = (struct error){0};
    assert_false(link_send(link, "OUTP 1\n", 7, deadline_in(0.2), &e));
    device.write_errno = 0;
    e = (struct error){0};
    assert_false(link_send(link, "OUTP 1\n", 7, deadline_in(0), &e));
    assert_int_equal(link->fault, LINK_TIMEOUT);
    assert_int_equal(device.aborts_out, 3);
    assert_false(device_has(device.instrument, 0));
    e = (struct error){0};
    assert_done(link_send(link, "OUTP 0\n", 7, deadline_in(1), &e), &e);
    link_close(link);
    device_end();
}

static void *unplug_soon(void *unused)
{
    deadline_sleep(deadline_in(0.1));
    device_unplug();
    return unused;
}

/* An unplugged device is seen at once, wherever it is found, and for good. */
static void test_unplugged(void **state)
{
    struct error e = {0};
    pthread_t thread;
    struct link *link;

    (void)state;
    device_make();
    link = must_open();
    assert_int_equal(pthread_create(&thread, NULL, unplug_soon, NULL), 0);
    check_fails(link, 5, LINK_GONE, "the instrument is gone", 0.05, 0.4);
    assert_int_equal(pthread_join(thread, NULL), 0);
    check_fails(link, 5, LINK_GONE, "", 0, 0.1);
    link_close(link);
    device_end();

    device_make();
    link = must_open();
    device_says(MORE, "half", 4);
    device_unplug();
    check_fails(link, 5, LINK_GONE, "gone", 0, 0.1);
    link_close(link);
    device_end();

    device_make();
    link = must_open();
    device_unplug();
    assert_false(link_send(link, "OUTP 0\n", 7, deadline_in(1), &e));
    assert_int_equal(link->fault, LINK_GONE);
    link_close(link);
    device_end();

    device_make();
    link = must_open();
    device_unplug();
    e = (struct error){0};
    assert_false(link_clear(link, deadline_in(1), &e));
    assert_int_equal(link->fault, LINK_GONE);
    link_close(link);
    device_end();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one_message_one_write), cmocka_unit_test(test_until_end_of_message),
        cmocka_unit_test(test_waits_by_status),       cmocka_unit_test(test_without_status),
        cmocka_unit_test(test_broken_transfer),       cmocka_unit_test(test_no_end_of_message),
        cmocka_unit_test(test_sending_is_cut_off),    cmocka_unit_test(test_unplugged),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
