#include "runner/record.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/mount.h>
#include <time.h>

#include "drivers/base/number.h"
#include "tests/record_fixture.h"

/* A batch that is closed and opened again goes on with everything it had: attempts, verdicts,
 * marks, counts. A wrongly connected attempt counts for nothing. */
static void test_goes_on(void **state)
{
    struct tree *tree = *state;
    struct record *record;
    struct record_last last;
    struct record_counts counts;
    struct error e = {0};

    record_fixture_batch(tree);
    record = record_fixture_open(tree);
    assert_done(record_find(record_reader_of(record), "KW1", &last, &e), &e);
    assert_int_equal(last.attempts, 2);
    assert_int_equal(last.verdict, VERDICT_PASS);
    assert_false(last.wrongly_connected);
    assert_done(record_find(record_reader_of(record), "KW3", &last, &e), &e);
    assert_int_equal(last.attempts, 0);
    assert_int_equal(last.verdict, VERDICT_INCOMPLETE);
    assert_int_equal(record_fixture_store(record, "KW2", 20), 2);
    assert_int_equal(record_fixture_store(record, "KW3", 10), 1);
    assert_done(record_note(record, NOTE_WRONGLY_CONNECTED, "KW3", 1, "", &e), &e);
    assert_done(record_count(record_reader_of(record), &counts, &e), &e);
    assert_int_equal(counts.n_units, 2);
    assert_int_equal(counts.n_pass, 2);
    assert_int_equal(counts.n_fail, 0);
    assert_int_equal(counts.n_attempts, 5);
    assert_int_equal(counts.n_marked, 2);
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
}

/* A closed folder is whole without the write-ahead log, so that a copy of it is. */
static void test_closed_is_whole(void **state)
{
    struct tree *tree = *state;
    char command[1200];

    record_fixture_batch(tree);
    assert_false(batch_has(record_fixture_folder(tree), BATCH_DATABASE "-wal"));
    (void)snprintf(command, sizeof command, "%s/batch", tree->top);
    assert_int_equal(rename(command, tree_path(tree, "elsewhere")), 0);
    assert_int_equal(rename(tree->path, command), 0);
    record_fixture_audit(tree, NULL);
}

/* Two stations, one batch: the second is refused while the first works, and told by whom. */
static void test_second_is_refused(void **state)
{
    struct tree *tree = *state;
    struct record *record, *second = NULL;
    struct error e = {0};
    int pipes[2], status;
    char byte;
    pid_t child;

    record_fixture_files(tree);
    assert_int_equal(pipe(pipes), 0);
    child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        record = record_fixture_open(tree);
        if (write(pipes[1], "x", 1) != 1) _exit(1);
        for (;;)
            (void)pause();
    }
    assert_int_equal(read(pipes[0], &byte, 1), 1);
    assert_false(record_fixture_try(tree, "limits.xml", "bench.xml", NULL, &second, &e));
    assert_int_equal(e.kind, ERROR_STORE);
    assert_holds(e.text, "is working on this batch");
    (void)snprintf(tree->path, sizeof tree->path, "process %ld on ", (long)child);
    assert_holds(e.text, tree->path);
    assert_int_equal(kill(child, SIGKILL), 0);
    assert_int_equal(waitpid(child, &status, 0), child);
    (void)close(pipes[0]);
    (void)close(pipes[1]);
    /* The kernel drops the lock with the process. */
    record = record_fixture_open(tree);
    record_fixture_close(record);
}

/* What a mark speaks of must be there; notes without a unit are fine. */
static void test_notes(void **state)
{
    struct tree *tree = *state;
    struct record *record;
    struct error e = {0};

    record_fixture_files(tree);
    record = record_fixture_open(tree);
    assert_done(record_note(record, NOTE_REFERENCE_BAD, "REF1", 0, "gain off by 1 dB", &e), &e);
    assert_done(record_note(record, NOTE_REFERENCE_GOOD, "REF1", 0, "within tolerance", &e), &e);
    (void)record_fixture_store(record, "KW1", 20);
    assert_false(record_note(record, NOTE_WRONGLY_CONNECTED, "KW1", 2, "", &e));
    assert_int_equal(e.kind, ERROR_USAGE);
    e = (struct error){0};
    assert_false(record_note(record, NOTE_WRONGLY_CONNECTED, NULL, 1, "", &e));
    e = (struct error){0};
    assert_done(record_note(record, NOTE_SKIPPED, "KW9", 0, "label unreadable", &e), &e);
    assert_done(record_note(record, NOTE_BENCH, NULL, 0, "line\nend", &e), &e);
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
}

/* What is no record of ours is never taken for one, and not written to. */
static void test_foreign_file(void **state)
{
    struct tree *tree = *state;
    struct record *record = NULL;
    struct record_db db = {0};
    struct error e = {0};

    record_fixture_files(tree);
    tree_write(tree, "batch/batch.sqlite", "This is a letter, not a data base; and long enough...");
    assert_false(record_fixture_try(tree, "limits.xml", NULL, NULL, &record, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_int_equal(unlink(tree_path(tree, "batch/batch.sqlite")), 0);
    e = (struct error){0};
    assert_done(record_db_open(&db, tree_path(tree, "batch/batch.sqlite"), RECORD_DB_WRITE, &e),
                &e);
    assert_done(record_db_run(&db, "CREATE TABLE theirs (a)", &e), &e);
    record_db_close(&db);
    assert_false(record_fixture_try(tree, "limits.xml", NULL, NULL, &record, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "is no batch record");
}

/* Sweeps whose data base is gone are not covered by a new one. */
static void test_lost_database(void **state)
{
    struct tree *tree = *state;
    struct record *record = NULL;
    struct error e = {0};

    record_fixture_batch(tree);
    assert_int_equal(unlink(tree_path(tree, "batch/batch.sqlite")), 0);
    assert_false(record_fixture_try(tree, "limits.xml", "bench.xml", NULL, &record, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "batch.sqlite is missing");
}

/* The child of the test below: stores one unit after the other and tells of each when it is
 * stored. */
static void store_for_ever(struct tree *tree, int out, unsigned round)
{
    struct record *record = NULL;
    struct error e = {0};

    if (!record_fixture_try(tree, "limits.xml", "bench.xml", NULL, &record, &e)) {
        print_error("%s\n", e.text);
        _exit(2);
    }
    for (unsigned i = 0;; i++) {
        char serial[16];
        unsigned long attempt[2] = {(round + i) % 5, 0};
        const bool is_good = i % 2 == 0;

        (void)snprintf(serial, sizeof serial, "KW%lu", attempt[0]);
        if (!record_fixture_try_store(record, serial, is_good ? 20 : 10, &attempt[1], &e)) {
            print_error("%s\n", e.text);
            _exit(3);
        }
        if (!is_good) attempt[0] |= 256;
        if (write(out, attempt, sizeof attempt) != (ssize_t)sizeof attempt) _exit(4);
    }
}

/* Every acknowledged attempt is there once with its verdict. */
static void check_told(struct tree *tree, int in, size_t *n_told)
{
    struct record *record = record_fixture_open(tree);
    struct record_reader *r = record_reader_of(record);
    unsigned long told[2];

    while (read(in, told, sizeof told) == (ssize_t)sizeof told) {
        struct record_query q = {0};
        struct error e = {0};
        char serial[16];
        bool row;

        (void)snprintf(serial, sizeof serial, "KW%lu", told[0] & 255);
        assert_done(record_query_open(&q, &r->db,
                                      "SELECT count(*), max(verdict) FROM unit WHERE serial = ? "
                                      "AND attempt = ?",
                                      &e),
                    &e);
        record_query_text(&q, serial);
        record_query_whole(&q, (int64_t)told[1]);
        assert_done(record_query_step(&q, &row, &e), &e);
        assert_int_equal(record_column_whole(&q, 0), 1);
        assert_string_equal(record_column_text(&q, 1), told[0] & 256 ? "FAIL" : "PASS");
        record_query_close(&q);
        ++*n_told;
    }
    record_fixture_close(record);
}

/* kill -9 at random moments: no acknowledged verdict is lost, none doubled, the audit is clean
 * right after the kill and after going on, and attempts are numbered without a gap. */
static void test_killed(void **state)
{
    struct tree *tree = *state;
    const char *words = getenv("GAINSIEVE_KILLS"); /* 1000 for the long run */
    unsigned long n_rounds = 50;
    unsigned seed = (unsigned)time(NULL) ^ (unsigned)getpid();
    size_t n_told = 0;

    if (words) assert_true(number_parse_whole(words, 100000, &n_rounds));
    print_message("kill test: seed %u\n", seed);
    record_fixture_files(tree);
    for (unsigned round = 0; round < n_rounds; round++) {
        struct pollfd told = {.events = POLLIN};
        int pipes[2], status;
        pid_t child;

        assert_int_equal(pipe(pipes), 0);
        told.fd = pipes[0];
        (void)fcntl(pipes[1], F_SETPIPE_SZ, 1 << 20);
        child = fork();
        assert_true(child >= 0);
        if (child == 0) store_for_ever(tree, pipes[1], round);
        /* One in five is killed while it opens the batch, the others after a first unit. */
        if (round % 5 != 0) assert_int_equal(poll(&told, 1, 20000), 1);
        (void)usleep((useconds_t)(rand_r(&seed) % 50000));
        assert_int_equal(kill(child, SIGKILL), 0);
        assert_int_equal(waitpid(child, &status, 0), child);
        assert_true(WIFSIGNALED(status));
        (void)close(pipes[1]);
        /* Before the very first entry there is nothing to audit. */
        if (round > 0) record_fixture_audit(tree, NULL);
        check_told(tree, pipes[0], &n_told);
        (void)close(pipes[0]);
        record_fixture_audit(tree, NULL);
    }
    print_message("kill test: %zu verdicts were acknowledged\n", n_told);
    assert_true(n_told > n_rounds / 2);
}

/* A disk that fills up: what was acknowledged stays, the failure is told, nothing more is taken by
 * this process, and with room again the batch goes on. Needs root for its small disk. */
static void test_full_disk(void **state)
{
    struct tree *tree = *state;
    struct record *record;
    struct record_last last;
    struct error e = {0};
    unsigned long attempt = 0, n_stored = 0;

    record_fixture_files(tree);
    assert_int_equal(mkdir(tree_path(tree, "batch"), 0755), 0);
    if (getuid() != 0 || mount("none", record_fixture_folder(tree), "tmpfs", 0, "size=600k") != 0) {
        print_message("a full disk is not tried: it takes root and a tmpfs\n");
        skip();
    }
    record = record_fixture_open(tree);
    while (n_stored < 500 && record_fixture_try_store(record, "KW1", 20, &attempt, &e))
        n_stored++;
    print_message("full disk: %lu attempts, then: %s\n", n_stored, e.text);
    assert_int_equal(e.kind, ERROR_STORE);
    assert_in_range(n_stored, 5, 499);
    assert_int_equal(attempt, n_stored);
    e = (struct error){0};
    assert_false(record_fixture_try_store(record, "KW1", 20, &attempt, &e));
    assert_int_equal(e.kind, ERROR_STORE);
    assert_holds(e.text, "start again");
    e = (struct error){0};
    (void)!record_close(record, &e);
    assert_int_equal(mount("none", record_fixture_folder(tree), "tmpfs", MS_REMOUNT, "size=4m"), 0);
    record_fixture_audit(tree, NULL);
    record = record_fixture_open(tree);
    e = (struct error){0};
    assert_done(record_find(record_reader_of(record), "KW1", &last, &e), &e);
    assert_int_equal(last.attempts, n_stored);
    assert_int_equal(record_fixture_store(record, "KW1", 20), n_stored + 1);
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
    assert_int_equal(umount(record_fixture_folder(tree)), 0);
}

/* No memory at any allocation of ours: an error of that kind, and the batch goes on afterwards. */
static void test_no_memory(void **state)
{
    struct tree *tree = *state;
    bool ok = false;
    unsigned long nth;

    record_fixture_files(tree);
    for (nth = 1; !ok; nth++) {
        struct record *record = NULL;
        struct error e = {0};

        assert_true(nth < 2000);
        memory_fail_at(nth);
        ok = record_fixture_try(tree, "limits.xml", "bench.xml", NULL, &record, &e);
        memory_fail_at(0);
        if (!ok) {
            assert_int_equal(e.kind, ERROR_MEMORY);
            continue;
        }
        record_fixture_close(record);
    }
    assert_true(nth > 10);
    record_fixture_audit(tree, NULL);
}

#define in_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_tree(test_goes_on),   in_tree(test_closed_is_whole), in_tree(test_second_is_refused),
        in_tree(test_notes),     in_tree(test_foreign_file),    in_tree(test_lost_database),
        in_tree(test_full_disk), in_tree(test_no_memory),       in_tree(test_killed),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
