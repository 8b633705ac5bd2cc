#include <math.h>
#include <string.h>

#include "runner/screen_parts.h"

#define REVERSE "7"
#define BOLD "1"
/* Longer lines are hard to read, however wide the terminal is. */
#define READABLE 100

struct page {
    struct text *out;
    unsigned columns;
    unsigned left; /* rows not yet drawn */
};

/* How the rows are shared out. */
struct layout {
    unsigned title, counts, now_rule, now, verdict_rule, letters, scale, height, words, message;
    unsigned entry, keys;
};

void screen_ascii(struct text *out, const char *words)
{
    for (const char *p = words ? words : ""; *p; p++) {
        unsigned char byte = (unsigned char)*p;

        if (byte >= 0x20 && byte < 0x7F) {
            text_add_bytes(out, p, 1);
        } else {
            text_add(out, byte == '\n' || byte == '\t' ? " " : "?");
            /* The whole of a character is one question mark. */
            while (byte >= 0xC0 && ((unsigned char)p[1] & 0xC0) == 0x80)
                p++;
        }
    }
}

unsigned long screen_verdict_attempt(const struct screen_view *view)
{
    if (view->verdict_attempt || !view->serial || !view->verdict_serial)
        return view->verdict_attempt;
    return strcmp(view->serial, view->verdict_serial) == 0 ? view->attempt : 0;
}

/* Ends a text of the page; a screen that lacks something for want of memory is not shown. */
static void finish(struct page *page, struct text *t)
{
    if (t->failed) page->out->failed = true;
    if (t->no_memory) page->out->no_memory = true;
    text_clear(t);
}

/* One row of printable ASCII, cut to the page; `style` are the numbers of a graphic rendition. */
static void draw_row(struct page *page, const char *style, const char *words)
{
    size_t length = strlen(words), room = page->columns;

    if (page->left == 0) return;
    page->left--;
    if (style && length) text_addf(page->out, "\033[%sm", style);
    if (length <= room) {
        text_add_bytes(page->out, words, length);
    } else {
        size_t dots = room > 6 ? 3 : 0;

        text_add_bytes(page->out, words, room - dots);
        text_add_bytes(page->out, "...", dots);
    }
    if (style && length) text_add(page->out, "\033[0m");
    text_add(page->out, "\n");
}

static void draw_blank(struct page *page, unsigned rows)
{
    for (unsigned i = 0; i < rows; i++)
        draw_row(page, NULL, "");
}

/* Bytes of `words` that go on a row of `room`, broken at a blank where there is one. */
static size_t row_of(const char *words, size_t room)
{
    size_t n = strlen(words);

    if (n <= room) return n;
    n = room;
    while (n > 0 && words[n] != ' ')
        n--;
    return n > 0 ? n : room;
}

/* Draws `words` behind `prefix` on at most `most` rows, later ones indented, and returns the rows
 * it took. Without a page it only counts. */
static unsigned wrap(struct page *page, unsigned columns, const char *style, const char *prefix,
                     const char *words, unsigned most)
{
    size_t width = columns < READABLE ? columns : READABLE;
    size_t indent = strlen(prefix) + 8 < width ? strlen(prefix) : 0;
    unsigned rows = 0;

    while (rows < most && *words) {
        size_t n = row_of(words, width > indent ? width - indent : 1);
        bool last = rows + 1 == most && words[n] != '\0';
        struct text row = {0};

        if (rows == 0 && indent)
            text_add(&row, prefix);
        else
            text_addf(&row, "%*s", (int)indent, "");
        text_add_bytes(&row, words, n);
        /* There is more, so that the row is cut with dots. */
        if (last && row.length > 3) {
            size_t keep = row.length + 3 <= columns ? row.length : columns - 3;

            if (columns > 6) {
                row.length = keep;
                text_add(&row, "...");
            }
        }
        if (page) {
            draw_row(page, style, text_words(&row));
            finish(page, &row);
        }
        text_clear(&row);
        words += n;
        words += strspn(words, " ");
        rows++;
    }
    return rows;
}

/* "-- words ------", over the whole width. */
static void draw_rule(struct page *page, const char *style, const char *words)
{
    struct text row = {0};

    text_addf(&row, "--%s%s%s", *words ? " " : "", words, *words ? " " : "");
    while (row.length < page->columns && !row.failed)
        text_add(&row, "-");
    draw_row(page, style, text_words(&row));
    finish(page, &row);
}

static void draw_title(struct page *page, const struct screen_view *view)
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
    draw_row(page, BOLD, text_words(&row));
    finish(page, &row);
}

static void draw_counts(struct page *page, const struct screen_view *view)
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
    draw_row(page, NULL, text_words(&row));
    finish(page, &row);
    finish(page, &yield);
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
static void draw_progress(struct page *page, const struct screen_view *view)
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
    draw_row(page, NULL, text_words(&row));
    finish(page, &row);
}

/* "Board KW000102, attempt 2 of 3: bias mid" */
static void draw_board(struct page *page, const struct screen_view *view)
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
    draw_row(page, NULL, text_words(&row));
    finish(page, &row);
}

static void draw_now(struct page *page, const struct screen_view *view, unsigned rows)
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
        if (rows > 0) draw_row(page, REVERSE, SCREEN_POWERED);
        if (rows > 1) draw_progress(page, view);
        if (rows > 2) draw_board(page, view);
    }
    screen_ascii(&words, view->instruction ? view->instruction : "");
    if (words.length && page->left > end) {
        bool board = view->serial && view->phase != SCREEN_MEASURING && rows > 3;

        (void)wrap(page, page->columns, style, prefixes[view->phase], text_words(&words),
                   page->left - end - (board ? 1 : 0));
        if (board) draw_board(page, view);
    }
    draw_blank(page, page->left - end);
    finish(page, &words);
}

static const char *verdict_style(enum verdict verdict, bool colour)
{
    if (!colour) return REVERSE;
    return verdict == VERDICT_PASS ? "7;32" : verdict == VERDICT_FAIL ? "7;31" : "7;33";
}

/* The word in the middle of the page; only the strokes carry the style. */
static void draw_letters(struct page *page, const char *word, const char *style, unsigned scale,
                         unsigned height)
{
    unsigned width = screen_letters_width(word) * scale;
    unsigned margin = page->columns > width ? (page->columns - width) / 2 : 0;

    for (unsigned y = 0; y < SCREEN_LETTER_ROWS * height && page->left > 0; y++, page->left--) {
        struct text row = {0};

        screen_letters_row(&row, word, y / height, scale);
        /* Blanks at the end are not worth sending. */
        while (row.length > 0 && row.data[row.length - 1] == ' ')
            row.data[--row.length] = '\0';
        text_addf(page->out, "%*s", (int)margin, "");
        for (const char *p = text_words(&row); *p;) {
            size_t blanks = strspn(p, " "), strokes = strspn(p + blanks, "#");

            text_add_bytes(page->out, p, blanks);
            text_addf(page->out, "\033[%sm%.*s\033[0m", style, (int)strokes, p + blanks);
            p += blanks + strokes;
        }
        text_add(page->out, "\n");
        finish(page, &row);
    }
}

/* "FAIL: last board KW000101, attempt 1": the word first, where no row is too short for it, but
 * while another board is measured. */
static void draw_verdict_rule(struct page *page, const struct screen_view *view, const char *style)
{
    const bool measuring = view->phase == SCREEN_MEASURING;
    struct text row = {0};

    if (!measuring) text_addf(&row, "%s: ", verdict_name(view->verdict));
    text_add(&row, "last board ");
    screen_ascii(&row, view->verdict_serial ? view->verdict_serial : "-");
    if (screen_verdict_attempt(view))
        text_addf(&row, ", attempt %lu", screen_verdict_attempt(view));
    if (measuring) text_addf(&row, ": %s", verdict_name(view->verdict));
    draw_rule(page, measuring ? NULL : style, text_words(&row));
    finish(page, &row);
}

/* The reason leaves a row or more to the advice, which says what to do. */
static void draw_reason(struct page *page, const struct screen_view *view, unsigned rows)
{
    struct text reason = {0}, advice = {0};
    unsigned end = page->left - rows, for_advice;

    screen_ascii(&reason, view->reason);
    screen_ascii(&advice, view->advice);
    for_advice = wrap(NULL, page->columns, NULL, "Advice: ", text_words(&advice), (rows + 1) / 2);
    if (rows == 1 && reason.length) for_advice = 0;
    (void)wrap(page, page->columns, NULL, "Reason: ", text_words(&reason), rows - for_advice);
    (void)wrap(page, page->columns, BOLD, "Advice: ", text_words(&advice), page->left - end);
    draw_blank(page, page->left - end);
    finish(page, &reason);
    finish(page, &advice);
}

static void draw_message(struct page *page, const struct screen_view *view, unsigned rows)
{
    struct text words = {0};
    unsigned end = page->left - rows;

    screen_ascii(&words, view->message);
    (void)wrap(page, page->columns, BOLD, "Note: ", text_words(&words), rows);
    draw_blank(page, page->left - end);
    finish(page, &words);
}

/* Of a long line the end is shown: that is where one types. */
static void draw_entry(struct page *page, const struct screen_view *view, const char *line)
{
    struct text row = {0}, typed = {0};
    size_t room = page->columns > 8 ? page->columns - 3 : page->columns;

    if (view->phase == SCREEN_WAIT || view->phase == SCREEN_MEASURING) {
        draw_blank(page, 1);
        return;
    }
    screen_ascii(&typed, line);
    text_add(&row, "> ");
    text_add(&row, text_words(&typed) + (typed.length > room ? typed.length - room : 0));
    draw_row(page, BOLD, text_words(&row));
    finish(page, &row);
    finish(page, &typed);
}

static void draw_keys(struct page *page)
{
    const char *longer = "Enter, or:  " SCREEN_COMMANDS "   Ctrl-C: bias off, end";

    draw_row(page, NULL, strlen(longer) <= page->columns ? longer : SCREEN_COMMANDS);
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

static struct layout share_out(struct page *page, const struct screen_view *view, const char *word)
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
        take(&left, wrap(NULL, columns, NULL, "Note: ", text_words(&message), rows >= 24 ? 2 : 1));
    finish(page, &message);
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
    struct page page = {out, columns > 1 ? columns - 1 : 1, rows > 0 ? rows : 1};
    const bool measuring = view->phase == SCREEN_MEASURING;
    const char *word = measuring ? "POWERED" : view->has_verdict ? verdict_name(view->verdict) : "";
    const char *style = measuring ? REVERSE : verdict_style(view->verdict, colour);
    struct layout layout = share_out(&page, view, word);
    unsigned below;

    if (layout.title) draw_title(&page, view);
    if (layout.counts) draw_counts(&page, view);
    if (layout.now_rule) draw_rule(&page, NULL, "What to do now");
    draw_now(&page, view, layout.now);
    if (layout.verdict_rule) {
        if (view->has_verdict)
            draw_verdict_rule(&page, view, layout.letters ? NULL : style);
        else
            draw_rule(&page, NULL, "");
    }
    below = layout.message + layout.entry + layout.keys;
    if (layout.letters) {
        if (page.left > below + layout.letters + layout.words) draw_blank(&page, 1);
        draw_letters(&page, word, style, layout.scale, layout.height);
        if (page.left > below + layout.words) draw_blank(&page, 1);
    }
    /* The reason of another board than the one that is powered would mislead. */
    if (layout.words && !measuring) draw_reason(&page, view, layout.words);
    if (page.left > below) draw_blank(&page, page.left - below);
    if (layout.message) draw_message(&page, view, layout.message);
    if (layout.entry) draw_entry(&page, view, line);
    if (layout.keys) draw_keys(&page);
}
