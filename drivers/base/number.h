/* Doubles to and from decimal text: always a decimal point, finite only, whatever the locale.
 *
 * The grammar is  [+-] digits [. digits] [e|E [+-] digits]  with at least one digit in the
 * mantissa; no hexadecimal, no "inf", no "nan". Reading gives the bits that strtod gives in the C
 * locale: up to 2^53 with a power of ten up to 22 by one exact operation (W. D. Clinger, "How to
 * read floating point numbers accurately", PLDI 1990; from memory), the rest by strtod itself. */
#ifndef GAINSIEVE_BASE_NUMBER_H
#define GAINSIEVE_BASE_NUMBER_H

#include <stdbool.h>
#include <stddef.h>

#define NUMBER_TEXT 40
#define NUMBER_FIXED_TEXT 344

/* Reads the number that begins at `*at` and moves `*at` behind it. False, `*at` unmoved, when no
 * number begins there or it is too large for a double. `end` bounds the text and must point to a
 * NUL or to a character that cannot belong to a number. */
bool number_scan(const char **at, const char *end, double *out);

/* The same, times ten to the power `shift`, rounded once: "169.3" with 6 is exactly 169300000.
 * Within -40..40. */
bool number_scan_scaled(const char **at, const char *end, int shift, double *out);

/* A NUL-ended text that is one number and nothing else, blanks included. */
bool number_parse(const char *text, double *out);

/* A NUL-ended text of digits only, at most `largest`. */
bool number_parse_whole(const char *text, unsigned long largest, unsigned long *out);

/* The shortest decimal that reads back the same; "nan" and "inf" for what is not finite. Returns
 * the length. */
size_t number_format(double x, char out[NUMBER_TEXT]);

/* Rounded to `decimals` (0 to 17) places; never "-0.00"; "nan" and "inf" for what is not finite.
 * Returns the length. */
size_t number_format_fixed(double x, int decimals, char out[NUMBER_FIXED_TEXT]);

#endif
