/* A locale with a decimal comma for tests, which must change nothing in what the program reads and
 * writes: an installed one, or one built for the test from Debian's package "locales". */
#ifndef GAINSIEVE_TESTS_COMMA_LOCALE_H
#define GAINSIEVE_TESTS_COMMA_LOCALE_H

#include <locale.h>
#include <stdlib.h>

#include "tests/tree.h"

static inline bool comma_locale_is_set(const char *name)
{
    char digits[16];

    if (!setlocale(LC_ALL, name)) return false;
    (void)snprintf(digits, sizeof digits, "%.1f", 1.5);
    if (strcmp(digits, "1,5") == 0) return true;
    (void)setlocale(LC_ALL, "C");
    return false;
}

/* Runs `check` with a decimal comma in force. Without such a locale the test says so and is counted
 * as skipped. `tree` is where one may be built. */
static inline void comma_locale_run(struct tree *tree, void (*check)(void))
{
    static const char *const names[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "nl_NL.UTF-8", "de_DE"};
    char command[sizeof tree->top + 80];
    bool set = false;

    for (size_t i = 0; i < sizeof names / sizeof *names && !set; i++)
        set = comma_locale_is_set(names[i]);
    if (!set) {
        (void)snprintf(command, sizeof command,
                       "localedef -i de_DE -f UTF-8 '%s/de_DE.UTF-8' >/dev/null 2>&1", tree->top);
        /* It warns about what does not matter here, so only its product counts. */
        (void)!system(command);
        (void)setenv("LOCPATH", tree->top, 1);
        set = comma_locale_is_set("de_DE.UTF-8");
    }
    if (set) check();
    (void)setlocale(LC_ALL, "C");
    (void)unsetenv("LOCPATH");
    if (!set) {
        print_message("no locale with a decimal comma is installed and none could be built "
                      "(Debian: package locales): not checked\n");
        skip();
    }
}

#endif
