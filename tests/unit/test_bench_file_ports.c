/* What a bench file names outside itself: ports, profiles, folders, the reference unit. */
#include "drivers/base/memory.h"
#include "drivers/base/xml.h"
#include "drivers/bench_file.h"
#include "tests/bench_file.h"

#define ANALYSER "<analyser profile=\"a.xml\" port=\"tcp:192.0.2.7:5025\" channel=\"2\"/>"
#define SUPPLY "<supply profile=\"s.xml\" port=\"serial:/dev/ttyUSB0?baud=9600\" channel=\"(@1)\"/>"
#define FIXTURE "<fixture port=\"tcp:192.0.2.7:5027\"/>"
#define FOLDER "<analyser port=\"folder:saved\" layout=\"{serial}/{bias}_{any}\"/>"

/* Ports arrive as written, each kind in its place. */
static void test_links(void **state)
{
    struct bench_file f = {0};

    (void)state;
    bench_take(&f, BENCH_FILE);
    assert_string_equal(f.analyser.port, "tcp:192.0.2.7:5025");
    assert_string_equal(f.analyser.channel, "2");
    assert_int_equal(f.analyser.line, 3);
    assert_string_equal(f.supply.port, "serial:/dev/ttyUSB0?baud=9600");
    assert_string_equal(f.supply.channel, "(@1)");
    assert_int_equal(f.supply.line, 4);
    assert_string_equal(f.fixture, "tcp:192.0.2.7:5027");
    bench_file_clear(&f);
    bench_take(&f, BENCH_SHORT);
    assert_true(bench_port_is(&f.analyser, "emulated"));
    assert_string_equal(f.analyser.port, "emulated:analyser?seed=7");
    bench_file_clear(&f);
}

/* Instead of links: a folder for sweeps, a person for the bias. No profile, no channel; and a
 * folder cannot be asked whether its correction was on. */
static void test_without_links(void **state)
{
    struct bench_file f = {0};
    char *folder = profile_with(BENCH_FILE, ANALYSER, FOLDER), *xml;

    (void)state;
    bench_refuse(folder, "required=\"yes\"", "required=\"yes\" ", "a folder cannot be asked");
    xml = profile_with(folder, "required=\"yes\" ", "");
    bench_take_with(&f, xml, SUPPLY, "<supply port=\"manual:\"/>");
    assert_true(bench_port_is(&f.analyser, "folder"));
    assert_string_equal(f.layout, "{serial}/{bias}_{any}");
    assert_null(f.analyser.profile);
    assert_true(bench_port_is(&f.supply, "manual"));
    assert_null(f.supply.profile);
    assert_false(f.correction.required);
    bench_file_clear(&f);
    free(folder);
    free(xml);
}

/* A wrong port is told with its line, not when the bench is already half open. */
static void test_wrong_ports(void **state)
{
    static const struct {
        const char *is, *port, *words;
    } wrong[] = {
        {ANALYSER, "<analyser profile=\"a\" port=\"gpib:7\"/>", "gpib"},
        {ANALYSER, "<analyser profile=\"a\" port=\"tcp:192.0.2.7\"/>", "tcp:"},
        {ANALYSER, "<analyser profile=\"a\" port=\"192.0.2.7:5025\"/>", "a port, such as"},
        {ANALYSER, "<analyser profile=\"a\" port=\"serial:\"/>", "serial:"},
        {ANALYSER, "<analyser profile=\"a\" port=\"serial:/dev/x?flow=xonxoff\"/>", "xonxoff"},
        {ANALYSER, "<analyser profile=\"a\" port=\"tcp:h:5025&#x7f;\"/>", "control character"},
        {ANALYSER, "<analyser port=\"tcp:h:5025\"/>", "needs profile"},
        {ANALYSER, "<analyser port=\"manual:\"/>", "for the supply only"},
        {ANALYSER, "<analyser port=\"folder:\"/>", "names no folder"},
        {ANALYSER, "<analyser profile=\"a\" port=\"folder:x\"/>", "remove profile and channel"},
        {ANALYSER, "<analyser channel=\"1\" port=\"folder:x\"/>", "remove profile and channel"},
        {ANALYSER, "<analyser profile=\"a\" port=\"emulated:supply\"/>", "emulated:analyser"},
        {ANALYSER, "<analyser profile=\"a\" port=\"emulated:analyserx\"/>", "emulated:analyser"},
        {ANALYSER, "<analyser profile=\"a\" port=\"emulated:\"/>", "emulated:analyser"},
        {ANALYSER, "<analyser port=\"emulated:analyser\"/>", "needs profile"},
        {ANALYSER, "<analyser profile=\"a\" port=\"tcp:h:5\" layout=\"{serial}\"/>",
         "layout is for"},
        {ANALYSER, "<analyser port=\"folder:x\" layout=\"{serail}\"/>", "serail"},
        {ANALYSER, "<analyser port=\"folder:x\" layout=\"{bias}\"/>", "serial"},
        {SUPPLY, "<supply port=\"folder:x\"/>", "for the analyser only"},
        {SUPPLY, "<supply port=\"manual:7\"/>", "nothing may follow"},
        {SUPPLY, "<supply profile=\"s\" port=\"manual:\"/>", "remove profile and channel"},
        {SUPPLY, "<supply profile=\"s\" port=\"emulated:analyser\"/>", "emulated:supply"},
        {SUPPLY, "<supply profile=\"s\" port=\"emulated:supply?seed=7\"/>", "the analyser's port"},
        {FIXTURE, "<fixture port=\"emulated:fixture?seed=7\"/>", "the analyser's port"},
        {SUPPLY, "<supply profile=\"s\" port=\"tcp:192.0.2.7:5025\"/>", "cannot share"},
        {SUPPLY, "<supply profile=\"s\" port=\"tcp:h:5\" layout=\"{serial}\"/>", "layout"},
        {SUPPLY, "<supply profile=\"s\" port=\"emulated:supply\"/>", "both be emulated"},
        {FIXTURE, "<fixture port=\"emulated:supply\"/>", "emulated:fixture"},
        {FIXTURE, "<fixture port=\"manual:\"/>", "for the supply only"},
        {FIXTURE, "<fixture port=\"folder:x\"/>", "for the analyser only"},
        {FIXTURE, "<fixture port=\"tcp:192.0.2.7:5025\"/>", "cannot share"},
        {FIXTURE, "<fixture/>", "port"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
        bench_refuse(BENCH_FILE, wrong[i].is, wrong[i].port, wrong[i].words);
}

/* Relative paths begin at the file's own folder, whatever the current one is; others stay. */
static void test_paths(void **state)
{
    char *path = fixture_file(""), *with_slash, *folder, want[512];
    struct bench_file f = {0};

    (void)state;
    (void)unlink(path);
    folder = path;
    *strrchr(folder, '/') = '\0';
    bench_take(&f, BENCH_FILE);
    (void)snprintf(want, sizeof want, "%s/a.xml", folder);
    assert_string_equal(f.analyser.profile, want);
    bench_file_clear(&f);
    with_slash = profile_with(BENCH_FILE, "profile=\"s.xml\"", "profile=\"/x/s.xml\"");
    bench_take_with(&f, with_slash, "<attempts", BENCH_REFERENCE "<attempts");
    assert_string_equal(f.supply.profile, "/x/s.xml");
    (void)snprintf(want, sizeof want, "%s/ref/KW000100", folder);
    assert_string_equal(f.reference.sweeps, want);
    bench_file_clear(&f);
    free(with_slash);
    with_slash = profile_with(BENCH_FILE, "required=\"yes\" ", "");
    bench_take_with(&f, with_slash, ANALYSER, FOLDER);
    (void)snprintf(want, sizeof want, "folder:%s/saved", folder);
    assert_string_equal(f.analyser.port, want);
    bench_file_clear(&f);
    bench_take_with(&f, with_slash, ANALYSER, "<analyser port=\"folder:/x/saved\"/>");
    assert_string_equal(f.analyser.port, "folder:/x/saved");
    assert_null(f.layout);
    bench_file_clear(&f);
    free(with_slash);
    free(folder);
}

/* A file of the current folder has no folder to put before. */
static void test_current_folder(void **state)
{
    char *path = fixture_file(BENCH_SHORT), *old = getcwd(NULL, 0), *name;
    struct bench_file f = {0};
    struct error e = {0};

    (void)state;
    assert_non_null(old);
    name = strrchr(path, '/');
    *name++ = '\0';
    assert_int_equal(chdir(path), 0);
    assert_done(bench_file_read(&f, name, &e), &e);
    assert_string_equal(f.analyser.profile, "a.xml");
    bench_file_clear(&f);
    (void)unlink(name);
    assert_int_equal(chdir(old), 0);
    free(path);
    free(old);
}

/* The reference unit's number names folders like any other. */
static void test_reference_serial(void **state)
{
    char *whole = profile_with(BENCH_FILE, "<attempts", BENCH_REFERENCE "<attempts");

    (void)state;
    bench_refuse(whole, "serial=\"KW000100\"", "serial=\"..\"", "cannot be used");
    bench_refuse(whole, "serial=\"KW000100\"", "serial=\"=A1\"", "cannot be used");
    bench_refuse(whole, "serial=\"KW000100\"", "serial=\"\"", "serial");
    bench_refuse(whole, "serial=\"KW000100\" ", "", "serial");
    bench_refuse(whole, "sweeps=\"ref/KW000100\" ", "", "sweeps");
    bench_refuse(whole, "gain-tolerance=\"0.3 dB\" ", "", "gain-tolerance");
    bench_refuse(whole, "reflection-tolerance=\"0.02\" ", "", "reflection-tolerance");
    free(whole);
}

/* The paths of a folder and of the reference are allocations too. */
static void test_no_memory(void **state)
{
    char *xml = profile_with(BENCH_FILE, "required=\"yes\" ", "");
    char *folder = profile_with(xml, ANALYSER, FOLDER), *path = fixture_file(folder);

    (void)state;
    for (unsigned long nth = 1;; nth++) {
        struct bench_file f = {.streak = 77};
        struct error e = {0};
        bool ok;

        memory_fail_at(nth);
        ok = bench_file_read(&f, path, &e);
        memory_fail_at(0);
        if (ok) {
            assert_true(nth > 30);
            bench_file_clear(&f);
            break;
        }
        assert_int_equal(e.kind, ERROR_MEMORY);
        assert_int_equal(f.streak, 77);
    }
    (void)unlink(path);
    free(path);
    free(folder);
    free(xml);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_links),          cmocka_unit_test(test_without_links),
        cmocka_unit_test(test_wrong_ports),    cmocka_unit_test(test_paths),
        cmocka_unit_test(test_current_folder), cmocka_unit_test(test_reference_serial),
        cmocka_unit_test(test_no_memory),
    };
    int failed;

    xml_start();
    failed = cmocka_run_group_tests(tests, NULL, NULL);
    xml_end();
    return failed;
}
