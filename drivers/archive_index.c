#include <math.h>
#include <string.h>

#include "drivers/archive_name.h"
#include "drivers/base/csv.h"
#include "drivers/base/file.h"
#include "drivers/base/memory.h"
#include "drivers/base/number.h"

enum column {
    COLUMN_SERIAL = 0,
    COLUMN_ATTEMPT,
    COLUMN_BIAS,
    COLUMN_FILE,
    COLUMN_CURRENT,
    COLUMN_MEASURED_AT,
    COLUMN_OPERATOR,
    COLUMN_BENCH,
    COLUMNS
};

static const char *const names[COLUMNS] = {"serial",          "attempt",     "bias",     "file",
                                           "bias_current_ma", "measured_at", "operator", "bench"};

struct reading {
    struct archive *archive;
    const char *path, *folder;
    const struct bias_names *biases;
    size_t place[COLUMNS]; /* cell of each column, from 1; 0: not there */
    size_t n_cells;        /* of the header; 0 until it was read */
    struct text file;
};

static bool read_header(struct reading *r, unsigned long line, char *const *cells, size_t n_cells,
                        struct error *e)
{
    for (size_t i = 0; i < n_cells; i++) {
        for (enum column c = COLUMN_SERIAL; c < COLUMNS; c++) {
            if (strcmp(cells[i], names[c]) != 0) continue;
            if (r->place[c])
                return error_set(e, ERROR_INPUT, "%s:%lu: the column \"%s\" stands twice", r->path,
                                 line, names[c]);
            r->place[c] = i + 1;
        }
    }
    for (enum column c = COLUMN_SERIAL; c < COLUMN_CURRENT; c++)
        if (!r->place[c])
            return error_set(e, ERROR_INPUT,
                             "%s:%lu: the column \"%s\" is missing: an index begins with "
                             "serial,attempt,bias,file and may have bias_current_ma, measured_at, "
                             "operator and bench",
                             r->path, line, names[c]);
    r->n_cells = n_cells;
    return true;
}

/* The cell of a column, "" where there is none. */
static const char *cell_of(const struct reading *r, char *const *cells, enum column column)
{
    return r->place[column] ? cells[r->place[column] - 1] : "";
}

static bool read_current(const struct reading *r, unsigned long line, char *const *cells,
                         double *current_ma, struct error *e)
{
    const char *cell = cell_of(r, cells, COLUMN_CURRENT);

    *current_ma = NAN;
    if (!*cell || number_parse(cell, current_ma)) return true;
    return error_set(e, ERROR_INPUT, "%s:%lu: the bias_current_ma \"%.40s\" is not a number",
                     r->path, line, cell);
}

/* A copy of a cell, or NULL for an empty one. */
static bool copy_cell(const char *cell, char **out, struct error *e)
{
    if (!*cell) return true;
    *out = memory_copy_text(cell, e);
    return *out != NULL;
}

/* Two digits that make a number within the bounds. */
static bool is_between(const char *two, int low, int high)
{
    int number = 10 * (two[0] - '0') + (two[1] - '0');

    for (int i = 0; i < 2; i++)
        if (two[i] < '0' || two[i] > '9') return false;
    return number >= low && number <= high;
}

/* "2026-11-25", or with "T14:05:00Z" behind: one form only, so that text is in the order of time.
 */
static bool is_time(const char *words)
{
    const size_t length = strlen(words);

    if (length != 10 && length != 20) return false;
    if (!is_between(words, 0, 99) || !is_between(words + 2, 0, 99) || words[4] != '-' ||
        !is_between(words + 5, 1, 12) || words[7] != '-' || !is_between(words + 8, 1, 31))
        return false;
    return length == 10 || (words[10] == 'T' && is_between(words + 11, 0, 23) && words[13] == ':' &&
                            is_between(words + 14, 0, 59) && words[16] == ':' &&
                            is_between(words + 17, 0, 60) && words[19] == 'Z');
}

static bool take_circumstances(const struct reading *r, unsigned long line, char *const *cells,
                               struct circumstances *out, struct error *e)
{
    const char *at = cell_of(r, cells, COLUMN_MEASURED_AT);

    if (*at && !is_time(at))
        return error_set(e, ERROR_INPUT,
                         "%s:%lu: the measured_at \"%.40s\" is no time: write 2026-11-25 or, in "
                         "UTC, 2026-11-25T14:05:00Z",
                         r->path, line, at);
    return copy_cell(at, &out->measured_at, e) &&
           copy_cell(cell_of(r, cells, COLUMN_OPERATOR), &out->operator_name, e) &&
           copy_cell(cell_of(r, cells, COLUMN_BENCH), &out->bench, e);
}

static bool take_row(void *context, unsigned long line, char *const *cells, size_t n_cells,
                     struct error *e)
{
    struct reading *r = context;
    struct archive_name name = {0};
    struct text where = {0};
    const char *serial, *bias, *file;
    double current_ma;
    bool ok;

    if (r->n_cells == 0) return read_header(r, line, cells, n_cells, e);
    if (n_cells != r->n_cells)
        return error_set(e, ERROR_INPUT, "%s:%lu: %zu cells where the header has %zu", r->path,
                         line, n_cells, r->n_cells);
    serial = cells[r->place[COLUMN_SERIAL] - 1];
    bias = cells[r->place[COLUMN_BIAS] - 1];
    file = cells[r->place[COLUMN_FILE] - 1];
    if (!number_parse_whole(cells[r->place[COLUMN_ATTEMPT] - 1], CEILING_ATTEMPTS, &name.attempt) ||
        name.attempt == 0)
        return error_set(e, ERROR_INPUT,
                         "%s:%lu: the attempt \"%.40s\" is not a whole number from 1 to %lu",
                         r->path, line, cells[r->place[COLUMN_ATTEMPT] - 1], CEILING_ATTEMPTS);
    if (!*file || !*bias)
        return error_set(e, ERROR_INPUT, "%s:%lu: the %s is empty", r->path, line,
                         *file ? "bias" : "file");
    if (!read_current(r, line, cells, &current_ma, e)) return false;
    name.serial = (struct name_part){serial, strlen(serial)};
    name.bias = (struct name_part){bias, strlen(bias)};
    text_reset(&r->file);
    if (*file != '/' && *r->folder)
        text_addf(&r->file, "%s%s", r->folder, r->folder[strlen(r->folder) - 1] == '/' ? "" : "/");
    text_add(&r->file, file);
    text_addf(&where, "%s:%lu", r->path, line);
    ok = text_ok(&r->file, "a file name", e) && text_ok(&where, "a file name", e) &&
         archive_add(r->archive, where.data, &name, r->file.data, r->biases, current_ma, e) &&
         take_circumstances(r, line, cells, &r->archive->files[r->archive->n_files - 1].told, e);
    text_clear(&where);
    return ok;
}

bool archive_read_index(struct archive *archive, const char *index, const char *folder,
                        const struct bias_names *biases, struct error *e)
{
    struct reading r = {.archive = archive, .path = index, .folder = folder, .biases = biases};
    struct text bytes = {0};
    bool ok = file_read(index, CEILING_INDEX_FILE, &bytes, e) &&
              csv_read(index, bytes.data, bytes.length, take_row, &r, e);

    if (ok && r.n_cells == 0)
        ok = error_set(e, ERROR_INPUT,
                       "%s:1: is empty: an index begins with "
                       "serial,attempt,bias,file",
                       index);
    text_clear(&r.file);
    text_clear(&bytes);
    return ok;
}
