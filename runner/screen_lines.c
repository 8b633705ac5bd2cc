#include <math.h>
#include <string.h>

#include "runner/screen_parts.h"

/* Parts what was said of one thing from the next; never in a text, which is printable ASCII. */
#define PART '\f'

/* The `n`th part of `said`. */
static const char *part_of(const struct text *said, size_t n, size_t *length)
{
    const char *part = text_words(said);

    for (; n > 0 && *part; part++)
        if (*part == PART) n--;
    *length = strcspn(part, "\f");
    return part;
}

/* Adds the lines unless the same key was said of the `n`th thing, and keeps the key. */
static void say(struct text *next, const struct text *said, size_t n, const struct text *key,
                const struct text *lines, struct text *out)
{
    size_t length;
    const char *before = part_of(said, n, &length);

    if (key->length > 0 && (key->length != length || memcmp(before, key->data, length) != 0))
        text_add(out, text_words(lines));
    text_add(next, text_words(key));
    if (key->failed || lines->failed) out->failed = out->no_memory = true;
    text_add_bytes(next, &(char){PART}, 1);
}

static void add_line(struct text *t, const char *prefix, const char *words)
{
    if (!words || !*words) return;
    text_add(t, prefix);
    screen_ascii(t, words);
    text_add(t, "\n");
}

static void add_board(struct text *t, const char *serial, unsigned long attempt)
{
    screen_ascii(t, serial ? serial : "-");
    if (attempt) text_addf(t, " attempt %lu", attempt);
}

static void add_verdict(struct text *t, const struct screen_view *view)
{
    if (!view->has_verdict) return;
    add_board(t, view->verdict_serial, screen_verdict_attempt(view));
    text_addf(t, ": %s\n", verdict_name(view->verdict));
    add_line(t, "  reason: ", view->reason);
    add_line(t, "  advice: ", view->advice);
}

static void add_counts(struct text *t, const struct screen_view *view)
{
    if (view->n_units == 0) return;
    text_add(t, "  yield: ");
    text_add_fixed(t, 100.0 * (double)view->n_pass / (double)view->n_units, 1);
    text_addf(t, " %% of %zu boards: %zu PASS, %zu FAIL, %zu INCOMPLETE\n", view->n_units,
              view->n_pass, view->n_fail, view->n_incomplete);
}

static void add_now(struct text *t, const struct screen_view *view)
{
    static const char *const prefixes[] = {[SCREEN_WAIT] = "wait: ",
                                           [SCREEN_ENTRY] = "next: ",
                                           [SCREEN_QUESTION] = "answer: ",
                                           [SCREEN_MEASURING] = "",
                                           [SCREEN_HALT] = "HALT: "};

    if (view->phase == SCREEN_MEASURING) {
        add_board(t, view->serial, view->attempt);
        text_add(t, ": " SCREEN_POWERED "\n");
    }
    add_line(t, prefixes[view->phase], view->instruction);
}

static void add_progress(struct text *key, struct text *t, const struct screen_view *view)
{
    if (view->phase != SCREEN_MEASURING || view->n_steps == 0) return;
    text_addf(key, "%zu of %zu bias steps", view->n_done, view->n_steps);
    text_addf(t, "  %s", text_words(key));
    if (isfinite(view->left_s) && view->left_s >= 0 && view->left_s < 360000) {
        text_add(t, ", about ");
        text_add_fixed(t, ceil(view->left_s), 0);
        text_add(t, " s left");
    }
    if (view->doing) {
        text_add(t, ": ");
        screen_ascii(t, view->doing);
    }
    text_add(t, "\n");
}

void screen_lines(const struct screen_view *view, struct text *said, struct text *out)
{
    struct text next = {0}, verdict = {0}, counts = {0}, message = {0}, now = {0}, step = {0},
                progress = {0};

    add_verdict(&verdict, view);
    add_counts(&counts, view);
    add_line(&message, "note: ", view->message);
    add_now(&now, view);
    add_progress(&step, &progress, view);
    say(&next, said, 0, &verdict, &verdict, out);
    say(&next, said, 1, &counts, &counts, out);
    say(&next, said, 2, &message, &message, out);
    say(&next, said, 3, &now, &now, out);
    say(&next, said, 4, &step, &progress, out);
    text_clear(&verdict);
    text_clear(&counts);
    text_clear(&message);
    text_clear(&now);
    text_clear(&step);
    text_clear(&progress);
    text_clear(said);
    *said = next;
}
