/* The index CSV: what each column says, which file each row means, and every way to be wrong. */
#include "tests/tree.h"

#include "drivers/archive.h"

static const struct bias_name names[] = {{"low", 1.8}, {"mid", 2.4}};

/* Opens the archive of `index.csv` with this content. */
static bool open_index(struct tree *tree, const char *content, struct archive *archive,
                       struct error *e)
{
    char index[4200];
    const struct archive_request request = {.index = index, .biases = {names, 2, 0.01}};

    tree_write(tree, "index.csv", content);
    (void)snprintf(index, sizeof index, "%s", tree_path(tree, "index.csv"));
    return archive_open(archive, &request, e);
}

static void assert_index_error(struct tree *tree, const char *content, const char *words)
{
    struct archive archive = {0};
    struct error e = {0};

    assert_false(open_index(tree, content, &archive, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, words);
    assert_int_equal(archive.n_files, 0);
}

/* Reason: a plain index, with the order of the results not that of the rows. */
static void test_plain(void **state)
{
    struct tree *tree = *state;
    struct archive archive = {0};
    struct error e = {0};

    assert_done(open_index(tree,
                           "serial,attempt,bias,file\r\n"
                           "B,1,mid,b1m.s2p\r\n"
                           "A,2,low,a2.s2p\r\n"
                           "B,1,1.80 V,sub/b1l.s2p\r\n"
                           "A,1,low,a1.s2p\r\n",
                           &archive, &e),
                &e);
    assert_int_equal(archive.n_files, 4);
    assert_string_equal(archive.files[0].path, tree_path(tree, "a1.s2p"));
    assert_string_equal(archive.files[1].path, tree_path(tree, "a2.s2p"));
    assert_int_equal(archive.files[1].attempt, 2);
    assert_string_equal(archive.files[2].path, tree_path(tree, "sub/b1l.s2p"));
    assert_int_equal(archive.files[2].step, 0);
    assert_string_equal(archive.files[3].serial, "B");
    assert_int_equal(archive.files[3].step, 1);
    assert_true(isnan(archive.files[3].bias_current_ma));
    assert_int_equal(archive_attempt_end(&archive, 0), 1);
    assert_int_equal(archive_attempt_end(&archive, 2), 4);
    archive_clear(&archive);
}

/* Reason: columns may stand in any order, with others of the user's own between, cells quoted,
 * lines ended by LF, and a byte-order mark in front, as spreadsheets write it. */
static void test_columns_in_any_order(void **state)
{
    struct tree *tree = *state;
    struct archive archive = {0};
    struct error e = {0};

    assert_done(open_index(tree,
                           "\xEF\xBB\xBF"
                           "file,operator,bias_current_ma,bias,serial,attempt\n"
                           "\"odd, \"\"name\"\".s2p\",\"two\nlines\",41.5,low,\"A,1\",0003\n"
                           "b.s2p,,,mid,B,1\n",
                           &archive, &e),
                &e);
    assert_int_equal(archive.n_files, 2);
    assert_string_equal(archive.files[0].serial, "A,1");
    assert_int_equal(archive.files[0].attempt, 3);
    assert_true(archive.files[0].bias_current_ma == 41.5);
    assert_string_equal(archive.files[0].path, tree_path(tree, "odd, \"name\".s2p"));
    assert_true(isnan(archive.files[1].bias_current_ma));
    archive_clear(&archive);
}

/* Reason: each needed column's absence is told by its name, a doubled one too. */
static void test_header_errors(void **state)
{
    struct tree *tree = *state;

    assert_index_error(tree, "attempt,bias,file\n1,low,a\n", "index.csv:1: the column \"serial\"");
    assert_index_error(tree, "serial,bias,file\nA,low,a\n", "\"attempt\" is missing");
    assert_index_error(tree, "serial,attempt,file\nA,1,a\n", "\"bias\" is missing");
    assert_index_error(tree, "serial,attempt,bias\nA,1,low\n", "\"file\" is missing");
    assert_index_error(tree, "Serial,attempt,bias,file\nA,1,low,a\n", "\"serial\" is missing");
    assert_index_error(tree, "serial,attempt,bias,file,bias\n", "\"bias\" stands twice");
    assert_index_error(tree, "", "index.csv:1: is empty");
    assert_index_error(tree, "\n\n", "index.csv:1: is empty");
    assert_index_error(tree, "serial,attempt,bias,file\n", "no sweep file is there");
}

/* Reason: a wrong cell is an error with its line, never a guess; blank lines count as lines. */
static void test_row_errors(void **state)
{
    static const char *const attempts[] = {"0", "-1",     "+1",    "1.0", "x",
                                           "",  "\" 1\"", "10000", "1e0"};
    struct tree *tree = *state;
    char content[200];

    for (size_t i = 0; i < sizeof attempts / sizeof *attempts; i++) {
        (void)snprintf(content, sizeof content, "serial,attempt,bias,file\n\nA,%s,low,a\n",
                       attempts[i]);
        assert_index_error(tree, content, "index.csv:3: the attempt \"");
    }
    assert_index_error(tree, "serial,attempt,bias,file\nA,1,low,a\nB,1,,b\n",
                       "index.csv:3: the bias is empty");
    assert_index_error(tree, "serial,attempt,bias,file\nA,1,low,\n",
                       "index.csv:2: the file is empty");
    assert_index_error(tree, "serial,attempt,bias,file\nA,1,low\n",
                       "index.csv:2: 3 cells where the header has 4");
    assert_index_error(tree, "serial,attempt,bias,file\nA,1,low,a,b\n",
                       "index.csv:2: 5 cells where the header has 4");
    assert_index_error(tree, "serial,attempt,bias,file\n,1,low,a\n", "index.csv:2: the serial");
    assert_index_error(tree, "serial,attempt,bias,file\nA,1,low,\"a\n", "never closed");
}

/* Reason: a current that cannot be read must not become "no current was read". */
static void test_bad_current(void **state)
{
    static const char *const currents[] = {"x", "4 mA", "4,5", "nan", "inf", " 4", "1e999"};
    struct tree *tree = *state;
    char content[200];

    for (size_t i = 0; i < sizeof currents / sizeof *currents; i++) {
        (void)snprintf(content, sizeof content,
                       "serial,attempt,bias,file,bias_current_ma\nA,1,low,a,\"%s\"\n", currents[i]);
        assert_index_error(tree, content, "index.csv:2: the bias_current_ma \"");
    }
}

/* Reason: two rows of one serial number, attempt and bias; the error names both files, also when
 * one gives the step by its id and the other by its voltage. */
static void test_doubles(void **state)
{
    struct tree *tree = *state;

    assert_index_error(tree, "serial,attempt,bias,file\nA,1,low,x.s2p\nA,1,1.805,y.s2p\n",
                       "both claim serial A, attempt 1, bias low");
    assert_index_error(tree, "serial,attempt,bias,file\nA,1,low,x.s2p\nA,1,1.805,y.s2p\n",
                       "/x.s2p and ");
    assert_index_error(tree, "serial,attempt,bias,file\nA,1,low,x.s2p\nA,1,1.805,y.s2p\n",
                       "/y.s2p both");
}

/* Reason: an absolute path stays, a relative one is relative to the index, or to the folder that
 * is named beside it; a slash at that folder's end is not doubled. */
static void test_paths(void **state)
{
    struct tree *tree = *state;
    char index[4200], elsewhere[4200], want[4300];
    char *paths[] = {elsewhere};
    struct archive_request request = {.index = index, .biases = {names, 2, 0.01}, .paths = paths};
    struct archive archive = {0};
    struct error e = {0};

    tree_write(tree, "elsewhere/a.s2p", TREE_SWEEP);
    tree_write(tree, "lists/i.csv",
               "serial,attempt,bias,file\nA,1,low,a.s2p\nB,1,low,/none/b.s2p\n");
    (void)snprintf(index, sizeof index, "%s", tree_path(tree, "lists/i.csv"));
    assert_done(archive_open(&archive, &request, &e), &e);
    assert_string_equal(archive.files[0].path, tree_path(tree, "lists/a.s2p"));
    assert_string_equal(archive.files[1].path, "/none/b.s2p");
    archive_clear(&archive);

    request.n_paths = 1;
    (void)snprintf(elsewhere, sizeof elsewhere, "%s/", tree_path(tree, "elsewhere"));
    (void)snprintf(want, sizeof want, "%sa.s2p", elsewhere);
    assert_done(archive_open(&archive, &request, &e), &e);
    assert_string_equal(archive.files[0].path, want);
    archive_clear(&archive);
}

/* Reason: beside an index one folder may be named; two, a file or nothing there is a mistake that
 * would otherwise make every unit INCOMPLETE. */
static void test_wrong_paths(void **state)
{
    struct tree *tree = *state;
    char index[4200], first[4200];
    char *paths[] = {first, first};
    struct archive_request request = {
        .index = index, .biases = {names, 2, 0.01}, .paths = paths, .n_paths = 2};
    struct archive archive = {0};
    struct error e = {0}, e1 = {0}, e2 = {0};

    tree_write(tree, "i.csv", "serial,attempt,bias,file\nA,1,low,a.s2p\n");
    (void)snprintf(index, sizeof index, "%s", tree_path(tree, "i.csv"));
    (void)snprintf(first, sizeof first, "%s", tree->top);
    assert_false(archive_open(&archive, &request, &e));
    assert_int_equal(e.kind, ERROR_USAGE);
    assert_holds(e.text, "at most one folder");

    request.n_paths = 1;
    (void)snprintf(first, sizeof first, "%s", index);
    assert_false(archive_open(&archive, &request, &e1));
    assert_int_equal(e1.kind, ERROR_USAGE);
    assert_holds(e1.text, "i.csv: with --index at most one folder");

    (void)snprintf(first, sizeof first, "%s", tree_path(tree, "none"));
    assert_false(archive_open(&archive, &request, &e2));
    assert_int_equal(e2.kind, ERROR_INPUT);
    assert_holds(e2.text, "No such file");
}

/* Reason: a listed file that is not there, or is no file, is a unit's missing sweep with the
 * reason, not the end of the check; the current that the index tells stays. */
static void test_missing_file(void **state)
{
    struct tree *tree = *state;
    struct archive archive = {0};
    struct measurement m = {0};
    struct text bytes = {0};
    struct error e = {0};

    tree_write(tree, "sub/b.s1p", TREE_SWEEP);
    assert_done(open_index(tree,
                           "serial,attempt,bias,file,bias_current_ma\n"
                           "A,1,low,gone.s1p,7\nA,1,mid,sub/b.s1p,8\n"
                           "B,1,low,sub,\n",
                           &archive, &e),
                &e);
    assert_done(archive_load(&archive, 0, &bytes, &m, &e), &e);
    assert_string_equal(m.serial, "A");
    assert_int_equal(m.n_biases, 2);
    assert_holds(m.biases[0].missing.data, "gone.s1p: cannot be opened: No such file");
    assert_int_equal(m.biases[0].sweep.n_points, 0);
    assert_true(m.biases[0].bias_current_ma == 7);
    assert_int_equal(m.biases[1].missing.length, 0);
    assert_int_equal(m.biases[1].sweep.n_points, 1);
    assert_true(m.biases[1].bias_current_ma == 8);

    assert_done(archive_load(&archive, 2, &bytes, &m, &e), &e);
    assert_holds(m.biases[0].missing.data, "sub: is not a file");
    measurement_clear(&m);
    text_clear(&bytes);
    archive_clear(&archive);
}

/* Reason: a bias that is none of the limits' steps becomes a remark of its unit. */
static void test_unknown_bias(void **state)
{
    struct tree *tree = *state;
    struct archive archive = {0};
    struct measurement m = {0};
    struct text bytes = {0};
    struct error e = {0};

    assert_done(open_index(tree, "serial,attempt,bias,file\nA,1,hgh,a.s1p\n", &archive, &e), &e);
    assert_false(archive.files[0].has_bias);
    assert_done(archive_load(&archive, 0, &bytes, &m, &e), &e);
    assert_int_equal(m.n_biases, 0);
    assert_holds(m.remarks.data, "a.s1p: \"hgh\" is no bias step of the limits");
    measurement_clear(&m);
    text_clear(&bytes);
    archive_clear(&archive);
}

/* Reason: an index that cannot be read at all. */
static void test_no_index(void **state)
{
    struct tree *tree = *state;
    char index[4200];
    const struct archive_request request = {.index = index, .biases = {names, 2, 0.01}};
    struct archive archive = {0};
    struct error e = {0};

    (void)snprintf(index, sizeof index, "%s", tree_path(tree, "none.csv"));
    assert_false(archive_open(&archive, &request, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "none.csv: cannot be opened");
}

/* Reason: time, operator and bench stand at the head of a report and order its charts; the earliest
 * time of an attempt counts, and empty cells say nothing. */
static void test_circumstances(void **state)
{
    struct tree *tree = *state;
    struct archive archive = {0};
    struct circumstances found;
    struct error e = {0};

    assert_done(open_index(tree,
                           "serial,attempt,bias,file,measured_at,operator,bench\n"
                           "A,1,low,al.s2p,2026-11-25T14:05:00Z,Ada,\n"
                           "A,1,mid,am.s2p,2026-11-25T14:04:00Z,,Bench 2\n"
                           "B,1,low,bl.s2p,,,\n",
                           &archive, &e),
                &e);
    found = archive_circumstances(&archive, 0);
    assert_string_equal(found.measured_at, "2026-11-25T14:04:00Z");
    assert_string_equal(found.operator_name, "Ada");
    assert_string_equal(found.bench, "Bench 2");
    found = archive_circumstances(&archive, 2);
    assert_null(found.measured_at);
    assert_null(found.operator_name);
    assert_null(found.bench);
    archive_clear(&archive);
}

/* Reason: a time in another form would sort wrongly without a word. */
static void test_times(void **state)
{
    static const char *const wrong[] = {
        "25.11.2026",
        "2026-13-01",
        "2026-00-01",
        "2026-11-32",
        "2026-11-25 14:05:00",
        "2026-11-25T14:05",
        "2026-11-25T24:00:00Z",
        "2026-11-25T14:05:00+01:00",
        "today",
        "2026-1-01",
    };
    char content[200];

    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        (void)snprintf(content, sizeof content,
                       "serial,attempt,bias,file,measured_at\nA,1,low,a.s2p,%s\n", wrong[i]);
        assert_index_error(*state, content, "index.csv:2: the measured_at \"");
    }
}

/* Reason: which of two operators would the report name? */
static void test_two_operators(void **state)
{
    assert_index_error(*state,
                       "serial,attempt,bias,file,operator\nA,1,low,al.s2p,Ada\n"
                       "A,1,mid,am.s2p,Bob\n",
                       "two operators");
    assert_index_error(*state,
                       "serial,attempt,bias,file,bench\nA,1,low,al.s2p,1\n"
                       "A,1,mid,am.s2p,2\n",
                       "an attempt has one");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_plain, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_columns_in_any_order, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_header_errors, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_row_errors, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_bad_current, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_doubles, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_paths, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_wrong_paths, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_missing_file, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_unknown_bias, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_no_index, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_circumstances, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_times, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_two_operators, tree_make, tree_remove),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
