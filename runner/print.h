/* Words from outside on a terminal, which obeys control characters. */
#ifndef GAINSIEVE_PRINT_H
#define GAINSIEVE_PRINT_H

#include <stdio.h>

/* Prints the words, plain (see drivers/base/plain.h). */
void print_plain(FILE *out, const char *words);

#endif
