#include "drivers/board_archive.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "drivers/base/csv.h"
#include "drivers/base/file.h"
#include "drivers/base/memory.h"
#include "drivers/base/stop.h"
#include "drivers/base/text.h"
#include "drivers/board_build.h"
#include "drivers/board_reading.h"
#include "drivers/touchstone.h"

#define FIRST_SERIAL 101
#define SERIAL_TEXT 32
#define START_HZ UINT64_C(150000000)
#define SPAN_HZ UINT64_C(40000000)

const struct board_step board_steps[BOARD_STEPS] = {
    {"low", 1.80}, {"lower-mid", 2.10}, {"mid", 2.40}, {"upper-mid", 2.70}, {"high", 3.00}};

/* What is reused from file to file. */
struct writer {
    const char *folder;
    uint64_t seed;
    size_t n_points;
    double *frequency_hz;
    struct sweep sweep;
    struct text bytes, path, name, comment, index;
};

/* Evenly spaced, each rounded to a whole hertz, in whole numbers so that no step is inexact. */
static bool make_frequencies(struct writer *w, struct error *e)
{
    const uint64_t intervals = w->n_points - 1;

    w->frequency_hz = memory_make(w->n_points, sizeof *w->frequency_hz, e);
    if (!w->frequency_hz) return false;
    for (uint64_t i = 0; i <= intervals; i++)
        w->frequency_hz[i] = (double)(START_HZ + (SPAN_HZ * i + intervals / 2) / intervals);
    return true;
}

static bool set_path(struct writer *w, const char *name, struct error *e)
{
    text_reset(&w->path);
    text_addf(&w->path, "%s/%s", w->folder, name);
    return text_ok(&w->path, "a file name", e);
}

static bool remove_index(struct writer *w, struct error *e)
{
    if (!set_path(w, "index.csv", e)) return false;
    if (unlink(w->path.data) == 0 || errno == ENOENT) return true;
    return error_set(e, ERROR_STORE, "%s: cannot be replaced: %s", w->path.data, strerror(errno));
}

static void add_index_row(struct writer *w, const char *serial, const char *bias_id,
                          double current_ma)
{
    csv_add_text(&w->index, serial);
    text_add(&w->index, ",1,");
    csv_add_text(&w->index, bias_id);
    text_add(&w->index, ",");
    csv_add_text(&w->index, text_words(&w->name));
    text_add(&w->index, ",");
    csv_add_number(&w->index, current_ma);
    text_add(&w->index, "\r\n");
}

static bool write_step(struct writer *w, const struct board *board, unsigned long number,
                       unsigned step, struct error *e)
{
    const double bias_v = board_steps[step].at_v;
    char serial[SERIAL_TEXT];

    (void)snprintf(serial, sizeof serial, "KW%06lu", FIRST_SERIAL + number);
    text_reset(&w->bytes);
    text_reset(&w->name);
    text_reset(&w->comment);
    text_addf(&w->name, "%s_%s.s2p", serial, board_steps[step].id);
    text_addf(&w->comment, "%s emulated board, bias ", serial);
    text_add_fixed(&w->comment, bias_v, 2);
    text_addf(&w->comment, " V, seed %" PRIu64, w->seed);
    if (!text_ok(&w->name, "a file name", e) || !text_ok(&w->comment, "a comment", e) ||
        !set_path(w, w->name.data, e))
        return false;
    if (!board_sweep(board, bias_v, w->frequency_hz, w->n_points, &w->sweep, e)) return false;
    board_reading_sweep(&w->sweep, w->seed, number, step);
    if (!touchstone_write(&w->sweep, w->comment.data, &w->bytes, e) ||
        !text_ok(&w->bytes, "a sweep file", e) ||
        !file_write(w->path.data, w->bytes.data, w->bytes.length, FILE_PLAIN, e))
        return false;
    add_index_row(w, serial, board_steps[step].id,
                  board_reading_current_ma(board_current_ma(board, bias_v), w->seed, number, step));
    return true;
}

static bool write_units(struct writer *w, size_t n_units, board_archive_progress *progress,
                        void *context, struct error *e)
{
    text_add(&w->index, "serial,attempt,bias,file,bias_current_ma\r\n");
    for (size_t i = 0; i < n_units; i++) {
        struct board board;

        if (stop_wanted()) return stop_error(e);
        board_build(&board, w->seed, i);
        for (unsigned step = 0; step < BOARD_STEPS; step++)
            if (!write_step(w, &board, i, step, e)) return false;
        if (progress) progress(context, i + 1, n_units);
    }
    return set_path(w, "index.csv", e) && text_ok(&w->index, "the index", e) &&
           file_write(w->path.data, w->index.data, w->index.length, FILE_PLAIN, e);
}

bool board_archive_write(const char *folder, size_t n_units, uint64_t seed, size_t n_points,
                         board_archive_progress *progress, void *context, struct error *e)
{
    struct writer w = {.folder = folder, .seed = seed, .n_points = n_points};
    bool ok;

    if (n_units < 1 || n_units > BOARD_ARCHIVE_UNITS)
        return error_set(e, ERROR_USAGE, "%zu units cannot be emulated: 1 to %zu can", n_units,
                         BOARD_ARCHIVE_UNITS);
    if (n_points < 2 || n_points > CEILING_SWEEP_POINTS)
        return error_set(e, ERROR_USAGE, "a sweep cannot have %zu points: 2 to %zu it can",
                         n_points, CEILING_SWEEP_POINTS);
    w.index.ceiling = CEILING_INDEX_FILE;
    ok = make_frequencies(&w, e) && file_make_folder(folder, e) && remove_index(&w, e) &&
         write_units(&w, n_units, progress, context, e);
    memory_free(w.frequency_hz);
    sweep_clear(&w.sweep);
    text_clear(&w.bytes);
    text_clear(&w.path);
    text_clear(&w.name);
    text_clear(&w.comment);
    text_clear(&w.index);
    return ok;
}
