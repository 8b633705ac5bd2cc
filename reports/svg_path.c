#include "reports/svg_path.h"

#include <math.h>

static long tenths(double coordinate)
{
    return lround(10 * fmin(fmax(coordinate, -2000), 4000));
}

/* Tenths as a decimal in at most eight characters; printf would take most of the time of a page. */
static size_t write_tenths(long value, char *out)
{
    unsigned long size = (unsigned long)(value < 0 ? -value : value), whole = size / 10;
    char digits[8];
    size_t n = 0, length = 0;

    if (value < 0) out[length++] = '-';
    for (; whole > 0; whole /= 10)
        digits[n++] = (char)('0' + whole % 10);
    if (n == 0 && size % 10 == 0) digits[n++] = '0';
    while (n > 0)
        out[length++] = digits[--n];
    if (size % 10 == 0) return length;
    out[length++] = '.';
    out[length++] = (char)('0' + size % 10);
    return length;
}

/* Adds a pair of numbers, with the command's letter where it changes. */
static void add(struct svg_path *path, char command, long x, long y)
{
    char words[32];
    size_t length = 0;

    if (path->command != command || command == 'M')
        words[length++] = command;
    else if (x >= 0)
        words[length++] = ' ';
    path->command = command;
    length += write_tenths(x, words + length);
    if (y >= 0) words[length++] = ' ';
    length += write_tenths(y, words + length);
    text_add_bytes(&path->d, words, length);
}

void svg_path_move(struct svg_path *path, double x, double y)
{
    path->x = path->start_x = tenths(x);
    path->y = path->start_y = tenths(y);
    add(path, 'M', path->x, path->y);
}

void svg_path_line(struct svg_path *path, double x, double y)
{
    const long to_x = tenths(x), to_y = tenths(y);

    add(path, 'l', to_x - path->x, to_y - path->y);
    path->x = to_x;
    path->y = to_y;
}

void svg_path_dot(struct svg_path *path, double x, double y)
{
    svg_path_move(path, x, y);
    text_add(&path->d, "h0");
    path->command = 'h';
}

void svg_path_close(struct svg_path *path)
{
    text_add(&path->d, "Z");
    path->command = 'Z';
    path->x = path->start_x;
    path->y = path->start_y;
}

void svg_path_reset(struct svg_path *path)
{
    text_reset(&path->d);
    path->command = '\0';
}

void svg_path_clear(struct svg_path *path)
{
    text_clear(&path->d);
    *path = (struct svg_path){0};
}
