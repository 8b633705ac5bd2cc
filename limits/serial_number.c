#include "limits/serial_number.h"

#include <regex.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/memory.h"

#define LONGEST_PATTERN 200
#define MOST_REPETITIONS 8

static const char *const names[] = {
    [CHECK_NONE] = "none",           [CHECK_MOD_11_2] = "mod-11-2",
    [CHECK_MOD_37_2] = "mod-37-2",   [CHECK_MOD_97_10] = "mod-97-10",
    [CHECK_MOD_11_10] = "mod-11-10", [CHECK_MOD_37_36] = "mod-37-36",
};

bool check_character_find(const char *name, enum check_character *out)
{
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        if (strcmp(name, names[i]) != 0) continue;
        *out = (enum check_character)i;
        return true;
    }
    return false;
}

const char *check_character_name(enum check_character check)
{
    return names[check];
}

/* 0-9, A-Z as 0 to 35, '*' as 36; -1 for others. */
static int value_of(char c)
{
    static const char alphabet[] = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";
    const char *at = c ? strchr(alphabet, c) : NULL;

    return at ? (int)(at - alphabet) : -1;
}

/* Pure system with one check character: ISO/IEC 7064, radix 2. 'X' is 10 in MOD 11-2. */
static bool pure_holds(const char *text, int modulus)
{
    int p = 0;

    for (; *text; text++) {
        int value = value_of(*text);
        bool last = text[1] == '\0';

        if (modulus == 11 && last && *text == 'X') value = 10;
        if (value < 0 || (!last && value >= modulus - 1) || value >= modulus) return false;
        p = last ? (p + value) % modulus : (p + value) * 2 % modulus;
    }
    return p == 1;
}

/* Hybrid system MOD (M + 1, M): ISO/IEC 7064. */
static bool hybrid_holds(const char *text, int modulus)
{
    int p = modulus;

    for (; *text; text++) {
        int value = value_of(*text);
        int t;

        if (value < 0 || value >= modulus) return false;
        if (text[1] == '\0') return (p + value) % modulus == 1;
        t = (p + value) % modulus;
        p = (t ? t : modulus) * 2 % (modulus + 1);
    }
    return false;
}

/* MOD 97-10 with letters as two digits, A 10 to Z 35 (as ISO 11649 and ISO 17442 use it). */
static bool mod_97_10_holds(const char *text)
{
    int p = 0;

    for (; *text; text++) {
        int value = value_of(*text);

        if (value < 0 || value > 35) return false;
        p = (p * (value > 9 ? 100 : 10) + value) % 97;
    }
    return p == 1;
}

bool check_character_holds(enum check_character check, const char *text)
{
    if (check == CHECK_NONE) return true;
    if (strlen(text) < 2) return false;
    switch (check) {
    case CHECK_MOD_11_2: return pure_holds(text, 11);
    case CHECK_MOD_37_2: return pure_holds(text, 37);
    case CHECK_MOD_97_10: return mod_97_10_holds(text);
    case CHECK_MOD_11_10: return hybrid_holds(text, 10);
    case CHECK_MOD_37_36: return hybrid_holds(text, 36);
    case CHECK_NONE: break;
    }
    return true;
}

/* The larger of the numbers in "{n,m}"; `p` points to the brace. */
static unsigned long largest_count(const char *p)
{
    unsigned long largest = 0, count = 0;

    for (p++; (*p >= '0' && *p <= '9') || *p == ','; p++) {
        count = *p == ',' ? 0 : count * 10 + (unsigned long)(*p - '0');
        if (count > largest) largest = count;
        if (largest > CEILING_SERIAL) break;
    }
    return largest;
}

/* A regular expression with nested repetitions may ask for any amount of memory and time: "{n}"
 * copies what it repeats n times, and '+' copies it once. */
static bool pattern_is_harmless(const char *pattern, struct error *e)
{
    size_t repetitions = 0;
    bool repeated = false; /* what stands before is repeated already, or a group */

    if (strlen(pattern) > LONGEST_PATTERN)
        return error_set(e, ERROR_INPUT, "the pattern is longer than %d characters",
                         LONGEST_PATTERN);
    for (const char *p = pattern; *p; p++) {
        if (*p == '\\' && p[1]) {
            p++;
            if (*p >= '1' && *p <= '9')
                return error_set(e, ERROR_INPUT, "the pattern refers back to a group");
            repeated = false;
            continue;
        }
        repetitions += *p == '{' || *p == '+';
        if (repetitions > MOST_REPETITIONS ||
            (*p == '{' && (repeated || largest_count(p) > CEILING_SERIAL)))
            return error_set(e, ERROR_INPUT,
                             "the pattern repeats a group, repeats too often or more than %zu "
                             "times: write the parts out",
                             CEILING_SERIAL);
        repeated = strchr(")}*+?", *p) != NULL;
    }
    return true;
}

/* Compiles; a trial is freed again at once. */
static bool compiles(regex_t *matcher, const char *pattern, bool trial)
{
    if (regcomp(matcher, pattern, REG_EXTENDED | REG_NOSUB) != 0) return false;
    if (trial) regfree(matcher);
    return true;
}

bool serial_rule_make(struct serial_rule *out, const char *pattern, enum check_character check,
                      struct error *e)
{
    struct serial_rule made = {.check = check};
    regex_t *matcher = NULL;
    char whole[LONGEST_PATTERN + 8];

    if (pattern) {
        if (!pattern_is_harmless(pattern, e)) return false;
        made.pattern = memory_copy_text(pattern, e);
        matcher = memory_make(1, sizeof *matcher, e);
        if (!made.pattern || !matcher) goto failed;
        /* Alone first: "A)|(B" is no pattern, though it would be one between parentheses. */
        (void)snprintf(whole, sizeof whole, "^(%s)$", pattern);
        if (!compiles(matcher, pattern, true) || !compiles(matcher, whole, false)) {
            (void)error_set(e, ERROR_INPUT, "the pattern \"%s\" is not a regular expression",
                            pattern);
            goto failed;
        }
        made.matcher = matcher;
    }
    *out = made;
    return true;
failed:
    memory_free(matcher);
    memory_free(made.pattern);
    return false;
}

void serial_rule_clear(struct serial_rule *rule)
{
    if (rule->matcher) regfree(rule->matcher);
    memory_free(rule->matcher);
    memory_free(rule->pattern);
    *rule = (struct serial_rule){0};
}

bool serial_rule_fits(const struct serial_rule *rule, const char *serial, char *why,
                      size_t why_room)
{
    if (rule->matcher && regexec(rule->matcher, serial, 0, NULL, 0) != 0) {
        (void)snprintf(why, why_room, "the serial number does not follow the pattern \"%s\"",
                       rule->pattern);
        return false;
    }
    if (!check_character_holds(rule->check, serial)) {
        (void)snprintf(why, why_room, "the check character of the serial number (%s) is wrong",
                       names[rule->check]);
        return false;
    }
    return true;
}
