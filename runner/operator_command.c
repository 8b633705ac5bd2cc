#include "runner/operator_command.h"

#include <string.h>

static const struct {
    const char *name;
    enum operator_command_kind kind;
} names[] = {
    {"/retest", COMMAND_RETEST}, {"/skip", COMMAND_SKIP}, {"/note", COMMAND_NOTE},
    {"/wrong", COMMAND_WRONG},   {"/stop", COMMAND_STOP},
};

struct operator_command operator_command_read(const char *line)
{
    const size_t length = strcspn(line, " ");
    const char *rest = line + length + strspn(line + length, " ");

    if (line[0] == '\0') return (struct operator_command){COMMAND_NONE, ""};
    if (line[0] != '/') return (struct operator_command){COMMAND_SERIAL, line};
    for (size_t k = 0; k < sizeof names / sizeof *names; k++)
        if (strlen(names[k].name) == length && strncmp(line, names[k].name, length) == 0)
            return (struct operator_command){names[k].kind, rest};
    return (struct operator_command){COMMAND_UNKNOWN, line};
}
