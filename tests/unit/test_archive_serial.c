/* Which serial numbers can be used, and that a refusal is fit to print. */
#include "tests/check.h"

#include "drivers/archive_name.h"
#include "drivers/base/memory.h"

static void assert_taken(const char *serial)
{
    struct error e = {0};
    char *copy = archive_serial_copy((struct name_part){serial, strlen(serial)}, "here", &e);

    if (!copy) fail_msg("%s", e.text);
    assert_string_equal(copy, serial);
    memory_free(copy);
}

/* Fails unless the serial number is refused with `printed` in its place. */
static void assert_refused(const char *serial, const char *printed)
{
    struct error e = {0};
    char want[200];

    if (archive_serial_copy((struct name_part){serial, strlen(serial)}, "here", &e))
        fail_msg("\"%s\" was taken", printed);
    assert_int_equal(e.kind, ERROR_INPUT);
    (void)snprintf(want, sizeof want, "here: the serial number \"%s\" cannot be used", printed);
    assert_holds(e.text, want);
}

/* Reason: a cell that begins with one of these is a formula to a spreadsheet, and the column of
 * serial numbers may not be changed to prevent that. */
static void test_formulas(void **state)
{
    (void)state;
    assert_refused("=1+1", "=1+1");
    assert_refused("+1", "+1");
    assert_refused("-1", "-1");
    assert_refused("@x", "@x");
    assert_taken("a=b+c-d@e");
}

/* Reason: blanks at an end are not seen in a table, an empty one not at all; "." and ".." are
 * folders, not units. */
static void test_not_to_be_seen(void **state)
{
    (void)state;
    assert_refused("", "");
    assert_refused(" KW1", " KW1");
    assert_refused("KW1 ", "KW1 ");
    assert_refused(".", ".");
    assert_refused("..", "..");
    assert_taken("KW 1");
    assert_taken("...");
}

/* Reason: control characters would reach the terminal, marks of direction would let one serial
 * number look like another; neither may do so from within the refusal. */
static void test_control_characters(void **state)
{
    (void)state;
    assert_refused("K\tW", "K?W");
    assert_refused("K\nW", "K?W");
    assert_refused("K\x1b[31mW\x07", "K?[31mW?");
    assert_refused("K\x7fW", "K?W");
    assert_refused("K\xc2\x9bW", "K??W");
    assert_refused("K\xe2\x80\xaeW", "K???W");
    assert_refused("K\xe2\x81\xa6W", "K???W");
}

/* Reason: the tables are UTF-8, so that the serial number must be. Malformed kinds after RFC 3629
 * (from memory): Latin-1, cut short, overlong, a surrogate, above U+10FFFF, a lone tail. */
static void test_not_utf8(void **state)
{
    (void)state;
    assert_refused("Pr\xfc"
                   "f",
                   "Pr?f");
    assert_refused("K\xc3", "K?");
    assert_refused("K\xe6\x9d", "K??");
    assert_refused("K\xc0\xaf", "K??");
    assert_refused("K\xe0\x82\xa9", "K???");
    assert_refused("K\xed\xa0\x80", "K???");
    assert_refused("K\xf4\x90\x80\x80", "K????");
    assert_refused("K\xf8\x88\x80\x80\x80", "K?????");
    assert_refused("K\x80", "K?");
    assert_refused("K\xef\xbf\xbf", "K???");
}

/* Reason: two, three and four bytes are as good as one. */
static void test_utf8(void **state)
{
    (void)state;
    assert_taken("Gr\xc3\xb6\xc3\x9f"
                 "e");
    assert_taken("\xe6\x9d\xb1\xe4\xba\xac");
    assert_taken("\xf0\x9f\x8c\x8a");
    assert_taken("\xc2\xa1");
    assert_taken("\xf4\x8f\xbf\xbf");
}

/* Reason: two boards whose numbers differ by what nobody sees are one board to the operator, and
 * the verdict of the one is read as the other's. */
static void test_unseen(void **state)
{
    static const char *const unseen[] = {
        "\xC2\xA0",     "\xC2\xAD",     "\xCD\x8F",     "\xE2\x80\x80", "\xE2\x80\x8B",
        "\xE2\x80\x8D", "\xE2\x80\xA8", "\xE2\x80\xAF", "\xE2\x81\xA0", "\xE2\x81\xA5",
        "\xE3\x80\x80", "\xE3\x85\xA4", "\xEF\xBB\xBF", "\xEF\xBE\xA0"};
    char serial[16], printed[16];

    (void)state;
    for (size_t i = 0; i < sizeof unseen / sizeof *unseen; i++) {
        (void)snprintf(serial, sizeof serial, "A%sB", unseen[i]);
        (void)snprintf(printed, sizeof printed, "A%sB", strlen(unseen[i]) == 2 ? "??" : "???");
        assert_refused(serial, printed);
    }
    /* Neighbours of these that can be seen: hyphens, quotes, a fraction slash. */
    assert_taken("A\xE2\x80\x90"
                 "B");
    assert_taken("A\xE2\x80\x99"
                 "B");
    assert_taken("A\xE2\x81\x84"
                 "B");
}

/* Reason: 64 bytes are taken, 65 are refused and not cut; the refusal does not cut a character. */
static void test_length(void **state)
{
    char serial[70], printed[70];

    (void)state;
    memset(serial, 'K', sizeof serial);
    serial[64] = '\0';
    assert_taken(serial);
    memcpy(printed, serial, 65);
    serial[64] = 'K';
    serial[65] = '\0';
    assert_refused(serial, printed);
    memcpy(serial + 63, "\xe6\x9d\xb1", 4);
    printed[63] = '\0';
    assert_refused(serial, printed);
}

/* Reason: a part of a longer text ends where it says. */
static void test_part(void **state)
{
    struct error e = {0};
    char *copy = archive_serial_copy((struct name_part){"KW1_low.s2p", 3}, "here", &e);

    (void)state;
    assert_non_null(copy);
    assert_string_equal(copy, "KW1");
    memory_free(copy);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_formulas),
        cmocka_unit_test(test_not_to_be_seen),
        cmocka_unit_test(test_control_characters),
        cmocka_unit_test(test_not_utf8),
        cmocka_unit_test(test_utf8),
        cmocka_unit_test(test_unseen),
        cmocka_unit_test(test_length),
        cmocka_unit_test(test_part),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
