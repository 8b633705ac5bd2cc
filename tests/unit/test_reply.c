/* Frames of replies, whatever the bytes and however they are cut; texts and error entries.
 *
 * The forms of IEEE 488.2 and SCPI-1999 are from memory. */
#include "drivers/reply.h"

#include "drivers/random_source.h"
#include "tests/reply_check.h"

static const struct reply_frame any = {TERMINATOR_ANY, false, 0, false};
static const struct reply_frame lf = {TERMINATOR_LF, false, 0, false};
static const struct reply_frame cr = {TERMINATOR_CR, false, 0, false};
static const struct reply_frame crlf = {TERMINATOR_CRLF, false, 0, false};
static const struct reply_frame block = {TERMINATOR_ANY, true, 0, false};
static const struct reply_frame block_lf = {TERMINATOR_LF, true, 0, false};
static const struct reply_frame block_crlf = {TERMINATOR_CRLF, true, 0, false};
static const struct reply_frame block_8 = {TERMINATOR_ANY, true, 8, false};
static const struct reply_frame block_ends = {TERMINATOR_ANY, true, 0, true};

/* Reason: instruments end lines in every way; with "any" each is normal, also when the rest of a
 * line end comes late and stands before the next answer. */
static void any_takes_every_line_end(void **state)
{
    (void)state;
    assert_frame(&any, "", false, 0);
    assert_frame(&any, "1.0", false, 0);
    assert_frame(&any, "1.0\n", false, 4);
    assert_frame(&any, "1.0\r", false, 4);
    assert_frame(&any, "1.0\r\n", false, 5);
    assert_frame(&any, "1.0\n\r", false, 5);
    assert_frame(&any, "1.0\n\n", false, 5);
    assert_frame(&any, "\n", false, 0);
    assert_frame(&any, "\n1.0", false, 0);
    assert_frame(&any, "\r\n\n1.0\n", false, 7);
    assert_frame(&any, "1.0", true, 3);
    assert_no_frame(&any, "", true, "empty");
    assert_no_frame(&any, "\r\n", true, "empty");
}

/* Reason: with a fixed terminator another one means that the profile is wrong, and the bytes that
 * came tell how. */
static void fixed_terminators_name_another(void **state)
{
    (void)state;
    assert_frame(&lf, "1.0\n", false, 4);
    assert_frame(&cr, "1.0\r", false, 4);
    assert_frame(&crlf, "1.0\r", false, 0);
    assert_frame(&crlf, "1.0\r\n", false, 5);
    assert_no_frame(&lf, "1.0\r", false, "ends with \"\\x0D\" where the profile says LF:");
    assert_no_frame(&lf, "1.0\r\n", false, "ends with \"\\x0D\\x0A\" where the profile says LF:");
    assert_no_frame(&lf, "1.0\n\n", false, "ends with \"\\x0A\\x0A\" where the profile says LF:");
    assert_no_frame(&lf, "1.0\n\r", false, "ends with \"\\x0A\\x0D\" where the profile says LF:");
    assert_no_frame(&cr, "1.0\n", false, "ends with \"\\x0A\" where the profile says CR:");
    assert_no_frame(&cr, "1.0\r\n", false, "ends with \"\\x0D\\x0A\" where the profile says CR:");
    assert_no_frame(&crlf, "1.0\n", false, "ends with \"\\x0A\" where the profile says CR LF:");
    assert_no_frame(&crlf, "1.0\n\r", false,
                    "ends with \"\\x0A\\x0D\" where the profile says CR LF");
    assert_no_frame(&crlf, "1.0\rx", false, "ends with \"\\x0D\" where the profile says CR LF:");
    assert_no_frame(&crlf, "1.0\r\n\n", false, "ends with \"\\x0D\\x0A\\x0A\" where");
    assert_no_frame(&lf, "\n", false, "empty");
    assert_no_frame(&crlf, "\r\n", false, "empty");
    assert_no_frame(&lf, "1.0", true, "ended without its terminator LF");
    assert_no_frame(&crlf, "1.0\r", true, "ended without its terminator CR LF");
}

/* Reason: two answers in one piece, or garbage behind an answer, must not become one answer; what
 * is left over tells the caller that it is out of step. */
static void text_frame_stops_at_its_terminator(void **state)
{
    (void)state;
    assert_frame(&any, "1\n2\n", false, 2);
    assert_frame(&any, "1\n2\n", true, 2);
    assert_frame(&lf, "1\n2\n", false, 2);
    assert_frame(&crlf, "1\r\n2\r\n", false, 3);
    assert_frame(&lf, "1\nxx", false, 2);
}

/* Reason: the forms of a block, with and without a terminator where the link tells the end. `#10`
 * is a legal empty block; length digits may be padded. */
static void blocks_are_counted(void **state)
{
    (void)state;
    assert_frame(&block, "#", false, 0);
    assert_frame(&block, "#1", false, 0);
    assert_frame(&block, "#14", false, 0);
    assert_frame(&block, "#14abc", false, 0);
    assert_frame(&block, "#14abcd", false, 0);
    assert_frame(&block, "#14abcd\n", false, 8);
    assert_frame(&block, "#14abcd\r\n", false, 9);
    assert_frame(&block, "\n#14abcd\n", false, 9);
    assert_frame(&block, "#14abcd", true, 7);
    assert_frame(&block, "#3004abcd\n", false, 10);
    assert_frame(&block, "#9000000004abcd\n", false, 16);
    assert_frame(&block, "#10\n", false, 4);
    assert_frame(&block_lf, "#14abcd\n", false, 8);
    assert_frame(&block_crlf, "#14abcd\r", false, 0);
    assert_frame(&block_crlf, "#14abcd\r\n", false, 9);
    assert_no_frame(&block_lf, "#14abcd\r\n", false, "profile says LF");
    assert_no_frame(&block_crlf, "#14abcd\n", false, "profile says CR LF");
    assert_no_frame(&block_crlf, "#14abcd\r", true, "without its terminator CR LF");
    assert_frame(&block_8, "#1812345678\n", false, 12);
}

/* Reason: the bytes of a block may be anything, line ends and the XON and XOFF of a line included.
 */
static void block_data_may_be_any_byte(void **state)
{
    char bytes[3 + 2 + 256 + 1] = "#3256";

    (void)state;
    assert_frame(&block_8, "#18\n\r\x11\x13\xFF\0\n\n\n", false, 12);
    assert_frame(&block_8, "#18\n\r\x11\x13\xFF\0\n\n", false, 0);
    for (size_t i = 0; i < 256; i++)
        bytes[5 + i] = (char)i;
    bytes[5 + 256] = '\n';
    check_frame(&block, bytes, sizeof bytes, false, sizeof bytes, __FILE__, __LINE__);
}

/* Reason: what is wrong with a block is said at once, with what came. A count too small by four
 * leaves bytes where the terminator is due; too large, the block never gets whole. */
static void wrong_blocks_are_refused(void **state)
{
    (void)state;
    assert_no_frame(&block, "#A", false, "no block head, '#' and the count of its bytes: \"#A\"");
    assert_no_frame(&block, "#312x", false, "\"#312x\"");
    assert_no_frame(&block, "#3 12", false, "\"#3 12\"");
    assert_no_frame(&block, "#1-", false, "no block head");
    assert_no_frame(&block, "#14abcdefgh\n", false, "where the terminator of the block is due");
    assert_no_frame(&block, "#14abcdefgh\n", false, "\"efgh\\x0A\"");
    assert_frame(&block, "#18abcd\n", false, 0);
    assert_no_frame(&block, "#18abcd\n", true, "ended after 5 of the 8 bytes");
    assert_no_frame(&block, "#3", true, "inside the head");
    assert_no_frame(&block_8, "#14abcd\n", false, "4 bytes where 8 were due, as with reals of the");
    assert_no_frame(&block_8, "#216", false,
                    "16 bytes where 8 were due, as with reals of the other");
    assert_no_frame(&block_8, "#212", false, "12 bytes where 8 were due: look at the number of");
    assert_no_frame(&block_8, "#10\n", false, "0 bytes where 8 were due");
    /* A terminator by chance, since the count is too small: what follows it gives it away. */
    assert_no_frame(&block, "#14abcd\nefg\n", false, "behind the terminator of the block");
}

/* Reason: nobody may be made to wait for, or make room for, a gigabyte; the head alone decides. */
static void huge_count_is_refused_from_its_head(void **state)
{
    (void)state;
    assert_no_frame(&block, "#9999999999", false, "999999999 bytes, more than the 16777216");
    assert_no_frame(&block_8, "#9999999999", false, "999999999 bytes");
    assert_frame(&block, "#816777216", false, 0);
    assert_no_frame(&block, "#816777217", false, "16777217 bytes");
}

/* Reason: "#0" ends by the link's word only; on a link without one it is taken at a known length,
 * and refused at once otherwise, instead of being cut at the first line end inside it. */
static void indefinite_blocks(void **state)
{
    (void)state;
    assert_no_frame(&block, "#0abc\n", false, "block without a count (#0)");
    assert_frame(&block_ends, "#0ab\nc", false, 0);
    assert_frame(&block_ends, "#0ab\nc\n", true, 7);
    assert_frame(&block, "#0ab\nc\n", true, 7);
    assert_frame(&block_8, "#01234567", false, 0);
    assert_frame(&block_8, "#012345678", false, 0);
    assert_frame(&block_8, "#012345678", true, 10);
    assert_frame(&block_8, "#0123\n5678\n", false, 11);
    assert_no_frame(&block_8, "#0123456789\n", false, "terminator of the block is due");
    assert_no_frame(&block_8, "#01234567", true, "ended after 7 of the 8 bytes");
}

/* Reason: an instrument that did not take the format setting answers in the other kind; its first
 * bytes tell. A text is waited for a little, since it may be the instrument's complaint, but noise
 * without an end is not waited for. */
static void text_and_block_are_not_mixed_up(void **state)
{
    (void)state;
    assert_no_frame(&any, "#14abcd\n", false, "block where a text was due");
    assert_no_frame(&any, "#", false, "block where a text was due");
    assert_frame(&block, "-1.0", false, 0);
    assert_no_frame(&block, "-1.0E0,2\n", false, "text where a block was due: \"-1.0E0,2\\x0A\"");
    assert_no_frame(&block, "-1.0", true, "text where a block was due: \"-1.0\"");
    assert_no_frame(&block, " #14abcd\n", false, "text where a block was due");
    assert_no_frame(&block, "> #14abcd\n", false, "text where a block was due");
    assert_no_frame(&block, "1234567890123456789012345678901234567890", false, "text where");
    assert_no_frame(&block, "12345678901234567890123456789012345678901", false, "67890...\"");
}

/* Every cut of the reply is "more must come" while the link is open; where the link says that it is
 * over, a cut of a block is an error. */
static void check_cuts(const struct reply_frame *how, const char *bytes, size_t n, bool is_block)
{
    struct error e;

    for (size_t cut = 0; cut < n; cut++) {
        assert_int_equal(frame_of(how, bytes, cut, false, &e), 0);
        assert_int_equal(e.kind, ERROR_NONE);
        if (!is_block || cut == n - 1) continue;
        assert_int_equal(frame_of(how, bytes, cut, true, &e), 0);
        assert_int_equal(e.kind, ERROR_BENCH);
    }
    assert_int_equal(frame_of(how, bytes, n, false, &e), n);
}

/* Reason: a read boundary means nothing on serial lines and TCP: wherever the bytes are cut, half
 * an answer is never taken for a whole one. */
static void every_cut_waits_or_fails(void **state)
{
    (void)state;
    check_cuts(&any, BYTES("-1.25E-01,+3.5E+00\n"), false);
    check_cuts(&lf, BYTES("0,\"No error\"\n"), false);
    check_cuts(&crlf, BYTES("0,\"No error\"\r\n"), false);
    check_cuts(&block, BYTES("#216\n\n\r#10\n\n\n\n\n\n\n\n\n\n\n"), true);
    check_cuts(&block_8, BYTES("#3008\n\n\r#10\n\n\n"), true);
    check_cuts(&block_lf, BYTES("#18\n\n\r#10\n\n\n"), true);
    check_cuts(&block_8, BYTES("#0\n\n\r#10\n\n\n"), true);
}

/* Reason: the head decides which bytes are numbers; no single wrong byte in it may give a reply. */
static void every_change_of_a_head_is_seen(void **state)
{
    static const char good[] = "#3008ABCDEFGH\n";
    char bytes[sizeof good];
    struct error e;

    (void)state;
    for (size_t at = 0; at < 5; at++) {
        for (int value = 0; value < 256; value++) {
            memcpy(bytes, good, sizeof good);
            if (bytes[at] == (char)value) continue;
            bytes[at] = (char)value;
            assert_int_equal(frame_of(&block_8, bytes, sizeof good - 1, true, &e), 0);
            assert_int_equal(e.kind, ERROR_BENCH);
            assert_int_equal(frame_of(&block_8, bytes, sizeof good - 1, false, &e), 0);
            assert_int_equal(e.kind, ERROR_BENCH);
        }
    }
}

static void refuse_text(const char *bytes, size_t n, const char *words)
{
    char *copy = exact_copy(bytes, n);
    struct error e = {0};
    const char *text = NULL;
    size_t length = 99;

    assert_false(reply_text(copy, n, &text, &length, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, words);
    assert_null(text);
    assert_int_equal(length, 99);
    memory_free(copy);
}

/* Reason: NULs, set eighth bits and the noise of a wrong baud rate are not text, and say so; what
 * is text is kept to the byte. */
static void texts_are_seven_bit(void **state)
{
    struct error e = {0};
    const char *text;
    size_t length;

    (void)state;
    assert_done(reply_text(BYTES("\n Maker,<b>,\t1,0 \r\n\n"), &text, &length, &e), &e);
    assert_int_equal(length, 16);
    assert_memory_equal(text, " Maker,<b>,\t1,0 ", 16);
    assert_done(reply_text(BYTES("a\x07\x1B[2J"), &text, &length, &e), &e);
    assert_int_equal(length, 6);
    refuse_text(BYTES(""), "empty");
    refuse_text(BYTES("\r\n"), "empty");
    refuse_text(BYTES("1\0.0\n"), "wrong baud rate, parity or number of data bits: \"1\\x00.0\"");
    refuse_text(BYTES("1.\xB0\n"), "\"1.\\xB0\"");
    refuse_text(BYTES("Caf\xC3\xA9,1,2,3\n"), "\"Caf\\xC3\\xA9,1,2,3\"");
    refuse_text(BYTES("1.0\x7F\n"), "\"1.0\\x7F\"");
    refuse_text(BYTES("\xFF\xFB\x01\n"), "\"\\xFF\\xFB\\x01\"");
}

static void assert_entry(const char *text, long number, const char *words)
{
    char *copy = exact_copy(text, strlen(text));
    struct reply_error entry = {99, "?"};
    struct error e = {0};

    assert_done(reply_error_entry(copy, strlen(text), &entry, &e), &e);
    assert_int_equal(entry.number, number);
    assert_string_equal(entry.words, words);
    memory_free(copy);
}

static void refuse_entry(const char *text)
{
    char *copy = exact_copy(text, strlen(text));
    struct reply_error entry = {99, "?"};
    struct error e = {0};

    if (reply_error_entry(copy, strlen(text), &entry, &e)) fail_msg("\"%s\" was taken", text);
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, "no entry of an error queue");
    assert_int_equal(entry.number, 99);
    memory_free(copy);
}

/* Reason: entries as SCPI-1999, volume 2, 21.8 has them (texts from memory), the maker's own
 * without a text, and the small liberties that instruments take. */
static void error_entries(void **state)
{
    (void)state;
    assert_entry("0,\"No error\"", 0, "No error");
    assert_entry("+0,\"No error\"", 0, "No error");
    assert_entry("-113,\"Undefined header;FREK?\"", -113, "Undefined header;FREK?");
    assert_entry("-350,\"Queue overflow\"", -350, "Queue overflow");
    assert_entry("42,\"\"", 42, "");
    assert_entry(" -222 , \"Data out of range\" ", -222, "Data out of range");
    assert_entry("-151,\"Invalid \"\"string\"\" data\"", -151, "Invalid \"string\" data");
    assert_entry("-100,Command error", -100, "Command error");
    assert_entry("0", 0, "");
    assert_entry("-32768,\"\"", -32768, "");
    assert_entry("7,\"\x1B[2J<b>\"", 7, "?[2J<b>");
}

/* Reason: 0 means that nothing is wrong; half an entry, two entries, or another answer that begins
 * with a 0 must not be read as that. */
static void wrong_error_entries_are_refused(void **state)
{
    static const char *const wrong[] = {
        "",          " ",      "\"No error\"", "0,",        "0,\"",           "0,\"No err",
        "0.0,\"x\"", "0 1",    "0x0,\"x\"",    "-,\"x\"",   "--1,\"x\"",      "0,\"a\",-113,\"b\"",
        "0,\"a\"b",  "0\"a\"", "32768,\"x\"",  "-32769,\"", "99999999999999", "1e2,\"x\"",
        "0,\"a\"\"",
    };

    (void)state;
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
        refuse_entry(wrong[i]);
}

/* Reason: a text longer than the standard's 255 characters is cut, not written past its room. */
static void long_error_text_is_cut(void **state)
{
    char text[1000];
    struct reply_error entry;
    struct error e = {0};

    (void)state;
    memset(text, 'x', sizeof text);
    memcpy(text, "-1,\"", 4);
    text[sizeof text - 1] = '"';
    assert_done(reply_error_entry(text, sizeof text, &entry, &e), &e);
    assert_int_equal(strlen(entry.words), 255);
}

/* Reason: bytes from outside are shown in messages and logs; none may act on a terminal, and a
 * message is not to grow with the answer. */
static void bytes_are_shown_escaped(void **state)
{
    struct text out = {0};
    char shown[REPLY_SHOWN_TEXT], all[256], *copy;

    (void)state;
    reply_escape(&out, BYTES("A~ \n\0\x1B\x7F\xFF"), 100);
    assert_string_equal(text_words(&out), "A~ \\x0A\\x00\\x1B\\x7F\\xFF");
    text_reset(&out);
    reply_escape(&out, BYTES("12345"), 5);
    reply_escape(&out, BYTES("12345"), 3);
    reply_escape(&out, BYTES("12345"), 0);
    assert_string_equal(text_words(&out), "12345123......");
    text_clear(&out);
    memset(all, 0xFF, sizeof all);
    copy = exact_copy(all, 41);
    assert_int_equal(strlen(reply_shown(copy, 40, shown)), 160);
    assert_int_equal(strlen(reply_shown(copy, 41, shown)), 163);
    assert_string_equal(shown + 160, "...");
    assert_string_equal(reply_shown(copy, 0, shown), "");
    memory_free(copy);
}

/* Reason: without memory the words are shorter, and the text says so; nothing else happens. */
static void escaping_without_memory_is_told(void **state)
{
    struct text out = {0};
    struct error e = {0};

    (void)state;
    memory_fail_at(1);
    reply_escape(&out, BYTES("12345"), 5);
    memory_fail_at(0);
    assert_false(text_ok(&out, "an answer", &e));
    assert_int_equal(e.kind, ERROR_MEMORY);
    text_clear(&out);
}

/* Reason: garbage of any kind, in any pieces: a legal frame, one error, or waiting, and nothing
 * read past the bytes. A frame, once complete, is complete too when the link ends there. */
static void random_bytes(void **state)
{
    static const char alphabet[] = "#0189\n\r,\"-.E A\x11\x13\xFF";
    static const struct reply_frame *const frames[] = {
        &any, &lf, &cr, &crlf, &block, &block_lf, &block_crlf, &block_8, &block_ends,
    };
    const uint64_t seed = 4711;
    struct random_source source;
    unsigned n_frames = 0;
    struct error e;

    (void)state;
    print_message("seed %llu\n", (unsigned long long)seed);
    random_begin(&source, seed, 0, 0);
    for (int round = 0; round < 20000; round++) {
        const struct reply_frame *how = frames[random_bits(&source) % 9];
        const size_t n = random_bits(&source) % 24;
        char bytes[24];
        size_t length;

        for (size_t i = 0; i < n; i++)
            bytes[i] = alphabet[random_bits(&source) % sizeof alphabet];
        if (how->is_block && n > 0) bytes[0] = '#';
        length = frame_of(how, bytes, n, random_bits(&source) % 2, &e);
        if (length == 0) continue;
        n_frames++;
        assert_int_equal(frame_of(how, bytes, length, true, &e), length);
    }
    print_message("%u frames\n", n_frames);
    assert_true(n_frames > 1000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_takes_every_line_end),
        cmocka_unit_test(fixed_terminators_name_another),
        cmocka_unit_test(text_frame_stops_at_its_terminator),
        cmocka_unit_test(blocks_are_counted),
        cmocka_unit_test(block_data_may_be_any_byte),
        cmocka_unit_test(wrong_blocks_are_refused),
        cmocka_unit_test(huge_count_is_refused_from_its_head),
        cmocka_unit_test(indefinite_blocks),
        cmocka_unit_test(text_and_block_are_not_mixed_up),
        cmocka_unit_test(every_cut_waits_or_fails),
        cmocka_unit_test(every_change_of_a_head_is_seen),
        cmocka_unit_test(texts_are_seven_bit),
        cmocka_unit_test(error_entries),
        cmocka_unit_test(wrong_error_entries_are_refused),
        cmocka_unit_test(long_error_text_is_cut),
        cmocka_unit_test(bytes_are_shown_escaped),
        cmocka_unit_test(escaping_without_memory_is_told),
        cmocka_unit_test(random_bytes),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
