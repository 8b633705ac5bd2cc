/* What the tests of the operator's screen share: a view of an ordinary moment, and what a screen
 * may hold. */
#ifndef GAINSIEVE_TESTS_SCREEN_VIEW_H
#define GAINSIEVE_TESTS_SCREEN_VIEW_H

#include "runner/screen.h"
#include "tests/check.h"

/* An invented batch that waits for its next board, with a failure in view. */
static inline struct screen_view view_of_failure(void)
{
    return (struct screen_view){
        .product = "Kittiwake KW-170 driver board",
        .batch = "B-0147",
        .operator_name = "M. Lind",
        .bench = "west",
        .n_units = 12,
        .n_pass = 9,
        .n_fail = 2,
        .n_incomplete = 1,
        .phase = SCREEN_ENTRY,
        .instruction = "Put the next board on, then scan its serial number.",
        .has_verdict = true,
        .verdict_serial = "KW000101",
        .verdict_attempt = 1,
        .verdict = VERDICT_FAIL,
        .reason = "gain-high: gain 21.3 dB at 164 MHz and 3.00 V, below the least of 22 dB",
        .advice = "Look at the bias feed of the second stage.",
    };
}

static inline struct screen_view view_of_measuring(void)
{
    struct screen_view view = view_of_failure();

    view.phase = SCREEN_MEASURING;
    view.instruction = NULL;
    view.serial = "KW000102";
    view.attempt = 2;
    view.most_attempts = 3;
    view.doing = "bias mid, 2.40 V: sweep";
    view.n_done = 2;
    view.n_steps = 5;
    view.left_s = 11.4;
    return view;
}

/* Fails unless a page has its rows, none too wide, and nothing but printable ASCII and graphic
 * renditions; the text without those goes to `seen`. */
static inline void check_page(const struct text *page, unsigned columns, unsigned rows,
                              struct text *seen)
{
    unsigned row = 0, column = 0;

    text_reset(seen);
    assert_false(page->failed);
    for (size_t i = 0; i < page->length; i++) {
        unsigned char c = (unsigned char)page->data[i];

        if (c == '\n') {
            row++;
            column = 0;
        } else if (c == '\033') {
            assert_int_equal(page->data[++i], '[');
            while (strchr("0123456789;", page->data[i + 1]))
                i++;
            assert_int_equal(page->data[++i], 'm');
            continue;
        } else {
            assert_in_range(c, 0x20, 0x7E);
            column++;
            assert_true(column < columns || columns == 1);
        }
        text_add_bytes(seen, (const char *)&c, 1);
    }
    assert_int_equal(row, rows);
    assert_int_equal(column, 0);
}

/* The `n`th row, from 0, as a text that is overwritten by the next call. */
static inline const char *row_of_page(const struct text *seen, unsigned n)
{
    static char row[512];
    const char *p = text_words(seen);

    for (; n > 0 && *p; p++)
        if (*p == '\n') n--;
    (void)snprintf(row, sizeof row, "%.*s", (int)strcspn(p, "\n"), p);
    return row;
}

#endif
