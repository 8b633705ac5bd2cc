/* The `d` of an SVG path, short: coordinates in tenths of a unit, lines relative to the point
 * before. A page of thousands of lines consists of little else. */
#ifndef GAINSIEVE_SVG_PATH_H
#define GAINSIEVE_SVG_PATH_H

#include "drivers/base/text.h"

/* Born `= {0}`, ended with svg_path_clear(). */
struct svg_path {
    struct text d;
    long x, y;             /* where the pen is, in tenths */
    long start_x, start_y; /* where it was set down */
    char command;          /* whose numbers were written last */
};

/* Lifts the pen and sets it down. A coordinate far outside any drawing is brought near it, so that
 * a wild value does not make a wild file. */
void svg_path_move(struct svg_path *path, double x, double y);
/* A straight line to there. */
void svg_path_line(struct svg_path *path, double x, double y);
/* A dot: a line without length, which round ends make visible. */
void svg_path_dot(struct svg_path *path, double x, double y);
/* A line back to where the pen was set down. */
void svg_path_close(struct svg_path *path);
/* Empties the path but keeps its memory; frees it. */
void svg_path_reset(struct svg_path *path);
void svg_path_clear(struct svg_path *path);

#endif
