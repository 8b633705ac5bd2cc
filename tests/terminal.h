/* A terminal for tests: a pseudo-terminal as this process's standard input and output, with the
 * other end in our hand, and what a plain terminal makes of the bytes that arrive there. */
#ifndef GAINSIEVE_TESTS_TERMINAL_H
#define GAINSIEVE_TESTS_TERMINAL_H

#include <fcntl.h>
#include <stdlib.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include "tests/check.h"

#define TERMINAL_COLUMNS 200
#define TERMINAL_ROWS 80

struct terminal {
    int master, input, output; /* the saved standard input and output */
    char name[64];
    struct termios before;
    char cells[TERMINAL_ROWS][TERMINAL_COLUMNS];
    int row, column, columns, rows;
    size_t n_bytes; /* that arrived */
};

static inline void terminal_size(struct terminal *t, int columns, int rows)
{
    struct winsize size = {.ws_col = (unsigned short)columns, .ws_row = (unsigned short)rows};

    t->columns = columns ? columns : 80;
    t->rows = rows ? rows : 24;
    assert_int_equal(ioctl(t->master, TIOCSWINSZ, &size), 0);
}

/* Opens it and puts it in the place of both. */
static inline void terminal_take(struct terminal *t, int columns, int rows)
{
    int slave;

    memset(t, 0, sizeof *t);
    memset(t->cells, ' ', sizeof t->cells);
    t->master = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    assert_true(t->master >= 0);
    assert_int_equal(grantpt(t->master), 0);
    assert_int_equal(unlockpt(t->master), 0);
    assert_int_equal(ptsname_r(t->master, t->name, sizeof t->name), 0);
    terminal_size(t, columns, rows);
    slave = open(t->name, O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(slave >= 0);
    (void)fflush(stdout);
    t->input = fcntl(STDIN_FILENO, F_DUPFD_CLOEXEC, 10);
    t->output = fcntl(STDOUT_FILENO, F_DUPFD_CLOEXEC, 10);
    assert_true(dup2(slave, STDIN_FILENO) >= 0 && dup2(slave, STDOUT_FILENO) >= 0);
    assert_int_equal(tcgetattr(slave, &t->before), 0);
    (void)close(slave);
}

/* Gives both back; harmless twice. */
static inline void terminal_give(struct terminal *t)
{
    if (t->output > 0) {
        (void)dup2(t->output, STDOUT_FILENO);
        (void)close(t->output);
    }
    if (t->input > 0) {
        (void)dup2(t->input, STDIN_FILENO);
        (void)close(t->input);
    }
    if (t->master > 0) (void)close(t->master);
    t->output = t->input = t->master = 0;
}

static inline void terminal_type(struct terminal *t, const char *keys)
{
    assert_int_equal(write(t->master, keys, strlen(keys)), strlen(keys));
}

/* "ESC [ numbers letter": position, wipe; colours and private modes change no character. */
static inline const char *terminal_sequence(struct terminal *t, const char *p, const char *end)
{
    int numbers[2] = {0, 0}, n = 0;

    for (; p < end && (*p < 0x40 || *p > 0x7E); p++) {
        if (*p == ';' && n < 1) n++;
        if (*p >= '0' && *p <= '9') numbers[n] = numbers[n] * 10 + *p - '0';
    }
    assert_true(p < end);
    if (*p == 'H') {
        t->row = numbers[0] - 1;
        t->column = numbers[1] - 1;
        assert_in_range(t->row, 0, t->rows - 1);
        assert_in_range(t->column, 0, t->columns - 1);
    } else if (*p == 'J') {
        memset(t->cells, ' ', sizeof t->cells);
    } else if (*p == 'K') {
        memset(&t->cells[t->row][t->column], ' ', (size_t)(TERMINAL_COLUMNS - t->column));
    } else {
        assert_non_null(strchr("mhl", *p));
    }
    return p + 1;
}

/* Takes in what was written so far. */
static inline void terminal_read(struct terminal *t)
{
    static char bytes[1 << 17];
    size_t length = 0;
    ssize_t n;

    while (length < sizeof bytes &&
           (n = read(t->master, bytes + length, sizeof bytes - length)) > 0)
        length += (size_t)n;
    t->n_bytes += length;
    for (const char *p = bytes, *end = bytes + length; p < end;) {
        if (*p == '\033') {
            assert_true(p + 1 < end);
            assert_int_equal(p[1], '[');
            p = terminal_sequence(t, p + 2, end);
            continue;
        }
        assert_in_range(*p, 0x20, 0x7E);
        assert_in_range(t->column, 0, t->columns - 1);
        t->cells[t->row][t->column++] = *p++;
    }
}

/* A row without the blanks at its end, overwritten by the next call. */
static inline const char *terminal_row(const struct terminal *t, int row)
{
    static char words[TERMINAL_COLUMNS + 1];
    size_t length = (size_t)t->columns;

    memcpy(words, t->cells[row], length);
    while (length > 0 && words[length - 1] == ' ')
        length--;
    words[length] = '\0';
    return words;
}

#endif
