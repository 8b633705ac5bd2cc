#include <math.h>
#include <string.h>

#include "runner/screen_parts.h"

#define REVERSE "7"
#define BOLD "1"
/* How the rows are shared out. */
struct layout {
    unsigned title, counts, now_rule, now, verdict_rule, letters, scale, height, words, message;
    unsigned entry, keys;
};

unsigned long screen_verdict_attempt(const struct screen_view *view)
{
    if (view->verdict_attempt || !view->serial || !view->verdict_serial)
        return view->verdict_attempt;
    return strcmp(view->serial, view->verdict_serial) == 0 ? view->attempt : 0;
}

static void draw_title(struct screen_page *page, const struct screen_view *view)
{
    const char *const names[] = {"batch ", "bench ", "operator "};
    const char *const values[] = {view->batch, view->bench, view->operator_name};
    struct text row = {0};

    screen_ascii(&row, view->product ? view->product : "gainsieve");
    for (size_t i = 0; i < 3; i++) {
        if (!values[i]) continue;
        text_addf(&row, " | %s", names[i]);
        screen_ascii(&row, values[i]);
    }
    screen_page_row(page, BOLD, text_words(&row));
    screen_page_finish(page, &row);
}

static void draw_counts(struct screen_page *page, const struct screen_view *view)
{
    struct text row = {0}, yield = {0};

    if (view->n_units > 0) {
        text_add_fixed(&yield, 100.0 * (double)view->n_pass / (double)view->n_units, 1);
        text_add(&yield, " %");
    } else {
        text_add(&yield, "- %");
    }
    text_addf(&row, "Yield %s of %zu boards   PASS %zu   FAIL %zu   INCOMPLETE %zu",
              text_words(&yield), view->n_units, view->n_pass, view->n_fail, view->n_incomplete);
    if (row.length > page->columns) {
        text_reset(&row);
        text_addf(&row, "%s of %zu: %zu PASS %zu FAIL %zu INC.", text_words(&yield), view->n_units,
                  view->n_pass, view->n_fail, view->n_incomplete);
    }
    screen_page_row(page, NULL, text_words(&row));
    screen_page_finish(page, &row);
    screen_page_finish(page, &yield);
}

static void add_left(struct text *row, double left_s)
{
    if (!isfinite(left_s) || left_s < 0) {
        text_add(row, "time left not known");
    } else if (left_s > 359999) {
        text_add(row, "more than 99 h left");
    } else if (left_s < 100) {
        text_add(row, "about ");
        text_add_fixed(row, ceil(left_s), 0);
        text_add(row, " s left");
    } else {
        text_add(row, "about ");
        text_add_fixed(row, ceil(left_s / 60), 0);
        text_add(row, " min left");
    }
}

/* "[======|======|......|......]  2 of 4 bias steps, about 12 s left"; bars part the steps where
 * there is room. */
static void draw_progress(struct screen_page *page, const struct screen_view *view)
{
    size_t n_done = view->n_done < view->n_steps ? view->n_done : view->n_steps;
    unsigned cells = page->columns >= 76 ? 30 : page->columns >= 56 ? 12 : 0;
    double part = view->n_steps ? (double)n_done / (double)view->n_steps : 0;
    unsigned filled = (unsigned)(part * cells + 1e-9);
    struct text row = {0};

    if (cells) text_add(&row, "[");
    for (unsigned i = 0; i < cells; i++) {
        double here = (double)i * (double)view->n_steps / cells;
        double before = ((double)i - 1) * (double)view->n_steps / cells;
        bool edge =
            i > 0 && view->n_steps * 3 <= cells && floor(here + 1e-9) > floor(before + 1e-9);

        text_add(&row, edge ? "|" : i < filled ? "=" : ".");
    }
    if (cells) text_add(&row, "]  ");
    text_addf(&row, "%zu of %zu bias steps, ", n_done, view->n_steps);
    add_left(&row, view->left_s);
    screen_page_row(page, NULL, text_words(&row));
    screen_page_finish(page, &row);
}

/* "Board KW000102, attempt 2 of 3: bias mid" */
static void draw_board(struct screen_page *page, const struct screen_view *view)
{
    struct text row = {0};

    text_add(&row, "Board ");
    screen_ascii(&row, view->serial ? view->serial : "-");
    if (view->attempt) text_addf(&row, ", attempt %lu", view->attempt);
    if (view->attempt && view->most_attempts) text_addf(&row, " of %lu", view->most_attempts);
    if (view->phase == SCREEN_MEASURING && view->doing) {
        text_add(&row, ": ");
        screen_ascii(&row, view->doing);
    }
    screen_page_row(page, NULL, text_words(&row));
    screen_page_finish(page, &row);
}

static void draw_now(struct screen_page *page, const struct screen_view *view, unsigned rows)
{
    static const char *const prefixes[] = {[SCREEN_WAIT] = "WAIT: ",
                                           [SCREEN_ENTRY] = "NEXT: ",
                                           [SCREEN_QUESTION] = "ANSWER: ",
                                           [SCREEN_MEASURING] = "",
                                           [SCREEN_HALT] = "HALT: "};
    const char *style = view->phase == SCREEN_HALT ? REVERSE : BOLD;
    unsigned end = page->left - rows;
    struct text words = {0};

    if (view->phase == SCREEN_MEASURING) {
        if (rows > 0) screen_page_row(page, REVERSE, SCREEN_POWERED);
        if (rows > 1) draw_progress(page, view);
        if (rows > 2) draw_board(page, view);
    }
    screen_ascii(&words, view->instruction ? view->instruction : "");
    if (words.length && page->left > end) {
        bool board = view->serial && view->phase != SCREEN_MEASURING && rows > 3;

        (void)screen_page_wrap(page, page->columns, style, prefixes[view->phase],
                               text_words(&words), page->left - end - (board ? 1 : 0));
        if (board) draw_board(page, view);
    }
    screen_page_blank(page, page->left - end);
    screen_page_finish(page, &words);
}

static const char *verdict_style(enum verdict verdict, bool colour)
{
    if (!colour) return REVERSE;
    return verdict == VERDICT_PASS ? "7;32" : verdict == VERDICT_FAIL ? "7;31" : "7;33";
}

/* "FAIL: last board KW000101, attempt 1": the word first, where no row is too short for it, but
 * while another board is measured. */
static void draw_verdict_rule(struct screen_page *page, const struct screen_view *view,
                              const char *style)
{
    const bool measuring = view->phase == SCREEN_MEASURING;
    struct text row = {0};

    if (!measuring) text_addf(&row, "%s: ", verdict_name(view->verdict));
    text_add(&row, "last board ");
    screen_ascii(&row, view->verdict_serial ? view->verdict_serial : "-");
    if (screen_verdict_attempt(view))
        text_addf(&row, ", attempt %lu", screen_verdict_attempt(view));
    if (measuring) text_addf(&row, ": %s", verdict_name(view->verdict));
    screen_page_rule(page, measuring ? NULL : style, text_words(&row));
    screen_page_finish(page, &row);
}

/* The reason leaves a row or more to the advice, which says what to do. */
static void draw_reason(struct screen_page *page, const struct screen_view *view, unsigned rows)
{
    struct text reason = {0}, advice = {0};
    unsigned end = page->left - rows, for_advice;

    screen_ascii(&reason, view->reason);
    screen_ascii(&advice, view->advice);
    for_advice = screen_page_wrap(NULL, page->columns, NULL, "Advice: ", text_words(&advice),
                                  (rows + 1) / 2);
    if (rows == 1 && reason.length) for_advice = 0;
    (void)screen_page_wrap(page, page->columns, NULL, "Reason: ", text_words(&reason),
                           rows - for_advice);
    (void)screen_page_wrap(page, page->columns, BOLD, "Advice: ", text_words(&advice),
                           page->left - end);
    screen_page_blank(page, page->left - end);
    screen_page_finish(page, &reason);
    screen_page_finish(page, &advice);
}

static void draw_message(struct screen_page *page, const struct screen_view *view, unsigned rows)
{
    struct text words = {0};
    unsigned end = page->left - rows;

    screen_ascii(&words, view->message);
    (void)screen_page_wrap(page, page->columns, BOLD, "Note: ", text_words(&words), rows);
    screen_page_blank(page, page->left - end);
    screen_page_finish(page, &words);
}

/* Of a long line the end is shown: that is where one types. */
static void draw_entry(struct screen_page *page, const struct screen_view *view, const char *line)
{
    struct text row = {0}, typed = {0};
    size_t room = page->columns > 8 ? page->columns - 3 : page->columns;

    if (view->phase == SCREEN_WAIT || view->phase == SCREEN_MEASURING) {
        screen_page_blank(page, 1);
        return;
    }
    screen_ascii(&typed, line);
    text_add(&row, "> ");
    text_add(&row, text_words(&typed) + (typed.length > room ? typed.length - room : 0));
    screen_page_row(page, BOLD, text_words(&row));
    screen_page_finish(page, &row);
    screen_page_finish(page, &typed);
}

static void draw_keys(struct screen_page *page)
{
    const char *longer = "Enter, or:  " SCREEN_COMMANDS "   Ctrl-C: bias off, end";

    screen_page_row(page, NULL, strlen(longer) <= page->columns ? longer : SCREEN_COMMANDS);
}

static unsigned take(unsigned *left, unsigned wanted)
{
    unsigned n = wanted < *left ? wanted : *left;

    *left -= n;
    return n;
}

/* The largest letters that fit into the rows. */
static void choose_letters(struct layout *layout, const char *word, unsigned columns, unsigned rows)
{
    unsigned width = screen_letters_width(word);

    if (width > columns || rows < SCREEN_LETTER_ROWS) return;
    layout->height = rows >= 2 * SCREEN_LETTER_ROWS + 8 && 2 * width <= columns ? 2 : 1;
    layout->scale = 1;
    while (layout->scale < 2 * layout->height && (layout->scale + 1) * width <= columns)
        layout->scale++;
    layout->letters = SCREEN_LETTER_ROWS * layout->height;
}

static struct layout share_out(struct screen_page *page, const struct screen_view *view,
                               const char *word)
{
    const unsigned columns = page->columns, rows = page->left;
    struct layout layout = {0};
    struct text message = {0};
    unsigned left = rows;

    layout.now = take(&left, 1);
    layout.entry = take(&left, 1);
    layout.keys = take(&left, 1);
    layout.counts = take(&left, rows >= 5 ? 1 : 0);
    layout.title = take(&left, rows >= 10 ? 1 : 0);
    layout.now += take(&left, rows >= 20 ? 3 : 2);
    layout.now_rule = take(&left, rows >= 14 ? 1 : 0);
    screen_ascii(&message, view->message);
    layout.message =
        take(&left, screen_page_wrap(NULL, columns, NULL, "Note: ", text_words(&message),
                                     rows >= 24 ? 2 : 1));
    screen_page_finish(page, &message);
    if (*word) {
        layout.verdict_rule = take(&left, 1);
        choose_letters(&layout, word, columns, left);
        left -= layout.letters;
        layout.words = take(&left, layout.letters ? (left >= 6 ? left - 2 : left) : left);
    }
    return layout;
}

void screen_draw(const struct screen_view *view, const char *line, unsigned columns, unsigned rows,
                 bool colour, struct text *out)
{
    /* A terminal may go to the next row by itself after its last column. */
    struct screen_page page = {out, columns > 1 ? columns - 1 : 1, rows > 0 ? rows : 1};
    const bool measuring = view->phase == SCREEN_MEASURING;
    const char *word = measuring ? "POWERED" : view->has_verdict ? verdict_name(view->verdict) : "";
    const char *style = measuring ? REVERSE : verdict_style(view->verdict, colour);
    struct layout layout = share_out(&page, view, word);
    unsigned below;

    if (layout.title) draw_title(&page, view);
    if (layout.counts) draw_counts(&page, view);
    if (layout.now_rule) screen_page_rule(&page, NULL, "What to do now");
    draw_now(&page, view, layout.now);
    if (layout.verdict_rule) {
        if (view->has_verdict)
            draw_verdict_rule(&page, view, layout.letters ? NULL : style);
        else
            screen_page_rule(&page, NULL, "");
    }
    below = layout.message + layout.entry + layout.keys;
    if (layout.letters) {
        if (page.left > below + layout.letters + layout.words) screen_page_blank(&page, 1);
        screen_page_letters(&page, word, style, layout.scale, layout.height);
        if (page.left > below + layout.words) screen_page_blank(&page, 1);
    }
    /* The reason of another board than the one that is powered would mislead. */
    if (layout.words && !measuring) draw_reason(&page, view, layout.words);
    if (page.left > below) screen_page_blank(&page, page.left - below);
    if (layout.message) draw_message(&page, view, layout.message);
    if (layout.entry) draw_entry(&page, view, line);
    if (layout.keys) draw_keys(&page);
}
