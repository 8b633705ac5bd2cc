#include "drivers/base/csv.h"

#include <csv.h>
#include <math.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/base/plain.h"

/* Cells of the row being read: their bytes one after another, and where each begins. */
struct reading {
    const char *path;
    csv_row_function *take_row;
    void *context;
    struct error *e;
    struct text bytes;
    size_t starts[CEILING_CSV_CELLS];
    size_t n_cells;
    unsigned long row_line; /* line on which the row began */
    unsigned long line;     /* line being fed */
    bool failed;
};

static void take_cell(void *cell, size_t length, void *data)
{
    struct reading *r = data;

    if (r->failed) return;
    if (r->n_cells == CEILING_CSV_CELLS || length > CEILING_CSV_CELL) {
        r->failed = true;
        (void)error_set(r->e, ERROR_INPUT,
                        "%s:%lu: more than %zu cells in a row, or a cell of more than %zu bytes",
                        r->path, r->row_line, CEILING_CSV_CELLS, CEILING_CSV_CELL);
        return;
    }
    r->starts[r->n_cells++] = r->bytes.length;
    text_add_bytes(&r->bytes, cell, length);
    text_add_bytes(&r->bytes, "", 1);
}

static void end_row(int terminator, void *data)
{
    struct reading *r = data;
    char *cells[CEILING_CSV_CELLS];

    (void)terminator;
    if (r->failed) return;
    if (!text_ok(&r->bytes, r->path, r->e)) {
        r->failed = true;
        return;
    }
    for (size_t i = 0; i < r->n_cells; i++)
        cells[i] = r->bytes.data + r->starts[i];
    if (r->n_cells > 0 && !(r->n_cells == 1 && cells[0][0] == '\0'))
        r->failed = !r->take_row(r->context, r->row_line, cells, r->n_cells, r->e);
    r->n_cells = 0;
    r->bytes.length = 0;
    r->row_line = r->line + 1;
}

static bool feed_line(struct csv_parser *parser, struct reading *r, const char *at, size_t length)
{
    if (memchr(at, '\0', length))
        return error_set(r->e, ERROR_INPUT, "%s:%lu: holds a NUL byte: this is not a CSV file",
                         r->path, r->line);
    if (csv_parse(parser, at, length, take_cell, end_row, r) != length && !r->failed) {
        if (csv_error(parser) == CSV_ENOMEM)
            return error_set(r->e, ERROR_MEMORY, "out of memory while reading %s", r->path);
        return error_set(r->e, ERROR_INPUT,
                         "%s:%lu: a quote in the wrong place: quote the whole cell and double the "
                         "quotes inside it",
                         r->path, r->line);
    }
    return !r->failed;
}

/* Behind the line that begins at `at`. A line ends with a newline, a return or both. */
static const char *behind_line(const char *at, const char *end)
{
    while (at < end && *at != '\n' && *at != '\r')
        at++;
    if (at == end) return end;
    return *at == '\r' && at + 1 < end && at[1] == '\n' ? at + 2 : at + 1;
}

static bool feed(struct csv_parser *parser, struct reading *r, const char *at, size_t length)
{
    const char *end = at + length;
    size_t open_bytes = 0;

    while (at < end) {
        const char *next = behind_line(at, end);

        if (!feed_line(parser, r, at, (size_t)(next - at))) return false;
        /* A quoted cell that never ends would gather the rest of the file. */
        open_bytes = r->row_line <= r->line ? open_bytes + (size_t)(next - at) : 0;
        if (open_bytes > CEILING_CSV_CELLS * CEILING_CSV_CELL)
            return error_set(r->e, ERROR_INPUT, "%s:%lu: a quote is never closed", r->path,
                             r->row_line);
        at = next;
        r->line++;
        if (r->row_line > r->line) r->row_line = r->line;
    }
    if (csv_fini(parser, take_cell, end_row, r) != 0 && !r->failed)
        return error_set(r->e, ERROR_INPUT, "%s:%lu: a quote is never closed", r->path,
                         r->row_line);
    return !r->failed;
}

bool csv_read(const char *path, const char *bytes, size_t length, csv_row_function *take_row,
              void *context, struct error *e)
{
    struct reading *r = memory_make(1, sizeof *r, e);
    struct csv_parser parser;
    bool ok;

    if (!r) return false;
    if (length >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0) {
        bytes += 3;
        length -= 3;
    }
    r->path = path;
    r->take_row = take_row;
    r->context = context;
    r->e = e;
    r->row_line = r->line = 1;
    if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI | CSV_REPALL_NL) != 0) {
        memory_free(r);
        return error_set(e, ERROR_MEMORY, "out of memory while reading %s", path);
    }
    /* The library's own step of 128 bytes copies a long cell very often. */
    csv_set_blk_size(&parser, CEILING_CSV_CELL);
    ok = feed(&parser, r, bytes, length);
    csv_free(&parser);
    text_clear(&r->bytes);
    memory_free(r);
    return ok;
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

/* Readers take blanks at the ends of a bare cell for decoration. */
static bool needs_quotes(const char *cell)
{
    if (*cell == '\0') return false;
    return strpbrk(cell, ",\"\r\n") != NULL || is_blank(*cell) || is_blank(cell[strlen(cell) - 1]);
}

void csv_add_text(struct text *t, const char *cell)
{
    bool formula = *cell && strchr("=+-@\t\r", *cell) != NULL;
    bool quoted = formula || needs_quotes(cell);
    struct text plain = {0};

    text_add_plain(&plain, cell, "\t\n\r");
    cell = text_words(&plain);
    if (quoted) text_add(t, formula ? "\"'" : "\"");
    for (const char *quote; (quote = strchr(cell, '"')) != NULL; cell = quote + 1) {
        text_add_bytes(t, cell, (size_t)(quote - cell + 1));
        text_add(t, "\"");
    }
    text_add(t, cell);
    if (quoted) text_add(t, "\"");
    if (plain.failed) t->failed = t->no_memory = true;
    text_clear(&plain);
}

void csv_add_number(struct text *t, double x)
{
    /* Adding zero turns -0 into 0, which no reader of the table needs to tell apart. */
    if (isfinite(x)) text_add_number(t, x + 0.0);
}
