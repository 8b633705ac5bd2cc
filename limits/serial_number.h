/* What a serial number must look like. */
#ifndef GAINSIEVE_SERIAL_NUMBER_H
#define GAINSIEVE_SERIAL_NUMBER_H

#include <stddef.h>

#include "drivers/base/error.h"

/* Check characters of ISO/IEC 7064, at the end of the serial number. */
enum check_character {
    CHECK_NONE = 0,
    CHECK_MOD_11_2,
    CHECK_MOD_37_2,
    CHECK_MOD_97_10,
    CHECK_MOD_11_10,
    CHECK_MOD_37_36,
};

struct serial_rule {
    char *pattern; /* as written, for words; NULL: any */
    void *matcher; /* compiled; owned */
    enum check_character check;
};

/* Compiles `pattern`, a POSIX extended regular expression for the whole serial number, with at most
 * eight repetitions by '{' and '+', none by '{' of a group. ERROR_INPUT says what is wrong, without
 * file and line. */
bool serial_rule_make(struct serial_rule *out, const char *pattern, enum check_character check,
                      struct error *e) MUST_CHECK;
void serial_rule_clear(struct serial_rule *rule);

/* True when the serial number follows the rule; otherwise `why` holds words. */
bool serial_rule_fits(const struct serial_rule *rule, const char *serial, char *why,
                      size_t why_room);

/* By the name in the limits file, "mod-37-36"; false for another. */
bool check_character_find(const char *name, enum check_character *out);
const char *check_character_name(enum check_character check);

/* True when the characters end in the right check characters. */
bool check_character_holds(enum check_character check, const char *text);

#endif
