#include "drivers/bench_file_ports.h"

#include <string.h>

#include "drivers/archive_name.h"
#include "drivers/base/memory.h"
#include "drivers/link.h"

/* The three places of a bench. */
enum role { ROLE_ANALYSER = 0, ROLE_SUPPLY, ROLE_FIXTURE };
static const char *const roles[] = {"analyser", "supply", "fixture"};

/* The fault of another module, with this file's line before it. */
static bool pass_on(const struct xml *xml, const struct xml_node *node, const char *before,
                    const struct error *inner, struct error *e)
{
    if (inner->kind == ERROR_MEMORY) return error_set(e, ERROR_MEMORY, "%s", inner->text);
    return xml_fault(xml, node, e, "%s%s", before, inner->text);
}

/* `name` as seen from the current folder; NULL with `e` set. */
static char *from_bench(const char *bench_path, const char *name, struct error *e)
{
    const char *slash = strrchr(bench_path, '/');
    struct text made = {0};
    char *copy = NULL;

    if (name[0] == '/' || !slash) return memory_copy_text(name, e);
    text_add_bytes(&made, bench_path, (size_t)(slash + 1 - bench_path));
    text_add(&made, name);
    if (text_ok(&made, "the path", e)) copy = memory_copy_text(text_words(&made), e);
    text_clear(&made);
    return copy;
}

bool bench_path_read(char **out, const char *bench_path, const struct xml_node *node,
                     const char *attribute, struct error *e)
{
    char *name = NULL;

    *out = NULL;
    if (!xml_attribute(node, attribute, &name, e)) return false;
    if (!name) return true;
    *out = from_bench(bench_path, name, e);
    memory_free(name);
    return *out != NULL;
}

bool bench_serial_read(char **out, const struct xml *xml, const struct xml_node *node,
                       struct error *e)
{
    char *words = NULL;
    struct error inner = {0};

    if (!xml_attribute(node, "serial", &words, e)) return false;
    *out = archive_serial_copy((struct name_part){words, strlen(words)}, "serial", &inner);
    memory_free(words);
    return *out || pass_on(xml, node, "", &inner, e);
}

/* What follows the scheme, or NULL when the port is of another one. */
static const char *behind(const char *port, const char *scheme)
{
    const size_t length = strlen(scheme);

    return strncmp(port, scheme, length) == 0 && port[length] == ':' ? port + length + 1 : NULL;
}

/* One emulated bench stands behind all three ports, and takes its options from the analyser's. */
static bool check_emulated(const char *name, enum role role, const struct xml *xml,
                           const struct xml_node *node, struct error *e)
{
    const size_t length = strlen(roles[role]);
    const bool is_named = strncmp(name, roles[role], length) == 0;

    if (is_named && name[length] == '\0') return true;
    if (is_named && name[length] == '?' && role == ROLE_ANALYSER) return true;
    if (is_named && name[length] == '?')
        return xml_fault(xml, node, e, "options of the emulation stand behind the analyser's port");
    return xml_fault(xml, node, e, "the emulated instrument in this place is port=\"emulated:%s\"",
                     roles[role]);
}

/* Only an analyser's sweeps may come from files, and only a supply's bias from a person. */
static bool check_without_link(const char *address, bool is_folder, enum role role,
                               const struct xml *xml, const struct xml_node *node, struct error *e)
{
    if (is_folder && role != ROLE_ANALYSER)
        return xml_fault(xml, node, e, "folder: is for the analyser only, whose sweeps are files");
    if (is_folder && address[0] == '\0')
        return xml_fault(xml, node, e, "port=\"folder:\" names no folder: write it behind");
    if (!is_folder && role != ROLE_SUPPLY)
        return xml_fault(xml, node, e,
                         "manual: is for the supply only, whose bias a person may set");
    if (!is_folder && address[0] != '\0')
        return xml_fault(xml, node, e, "nothing may follow port=\"manual:\"");
    return true;
}

static bool check_port(const char *port, enum role role, const struct xml *xml,
                       const struct xml_node *node, struct error *e)
{
    const char *folder = behind(port, "folder"), *manual = behind(port, "manual"),
               *emulated = behind(port, "emulated");
    struct error inner = {0};

    for (const char *p = port; *p; p++)
        if ((unsigned char)*p < ' ' || *p == 0x7f)
            return xml_fault(xml, node, e, "port holds a control character");
    if (emulated) return check_emulated(emulated, role, xml, node, e);
    if (folder || manual)
        return check_without_link(folder ? folder : manual, folder != NULL, role, xml, node, e);
    return link_check_port(port, &inner) || pass_on(xml, node, "port: ", &inner, e);
}

/* "folder:DIR" with DIR as seen from the current folder; another port stays as it is. */
static bool find_folder(char **port, const char *bench_path, struct error *e)
{
    const char *address = behind(*port, "folder");
    struct text made = {0};
    char *found, *copy = NULL;

    if (!address) return true;
    found = from_bench(bench_path, address, e);
    if (!found) return false;
    text_add(&made, "folder:");
    text_add(&made, found);
    if (text_ok(&made, "the port", e)) copy = memory_copy_text(text_words(&made), e);
    text_clear(&made);
    memory_free(found);
    if (!copy) return false;
    memory_free(*port);
    *port = copy;
    return true;
}

static bool read_instrument(struct bench_instrument *out, enum role role, const char *bench_path,
                            const struct xml *xml, const struct xml_node *node, struct error *e)
{
    bool has_link;

    out->line = xml_line(node);
    if (!xml_attribute(node, "port", &out->port, e)) return false;
    if (!check_port(out->port, role, xml, node, e)) return false;
    if (!find_folder(&out->port, bench_path, e)) return false;
    if (!bench_path_read(&out->profile, bench_path, node, "profile", e)) return false;
    if (!xml_attribute(node, "channel", &out->channel, e)) return false;
    has_link = !bench_port_is(out, "folder") && !bench_port_is(out, "manual");
    if (has_link && !out->profile)
        return xml_fault(xml, node, e,
                         "needs profile, the file that tells how the instrument is spoken to");
    if (!has_link && (out->profile || out->channel))
        return xml_fault(xml, node, e, "nothing is sent to port=\"%s\": remove profile and channel",
                         out->port);
    return true;
}

/* The steps are the limits file's; what can be told without them is told here. */
static bool read_layout(struct bench_file *out, const struct xml *xml, const struct xml_node *node,
                        struct error *e)
{
    const struct bias_name any = {"any", 1};
    const struct bias_names one = {&any, 1, 0};
    struct error inner = {0};

    if (!xml_attribute(node, "layout", &out->layout, e)) return false;
    if (!out->layout) return true;
    if (!bench_port_is(&out->analyser, "folder"))
        return xml_fault(xml, node, e, "layout is for port=\"folder:...\" only: remove it");
    return archive_layout_check(out->layout, &one, &inner) || pass_on(xml, node, "", &inner, e);
}

/* Sweeps of an emulated board would be recorded for the one that a real supply feeds. */
static bool check_together(const struct bench_file *file, const struct xml *xml,
                           const struct xml_node *supply, struct error *e)
{
    const bool analyser_is = bench_port_is(&file->analyser, "emulated"),
               supply_is = bench_port_is(&file->supply, "emulated"),
               has_links = !bench_port_is(&file->analyser, "folder") &&
                           !bench_port_is(&file->supply, "manual");

    if (strcmp(file->analyser.port, file->supply.port) == 0)
        return xml_fault(xml, supply, e, "analyser and supply cannot share one port");
    if (has_links && analyser_is != supply_is)
        return xml_fault(xml, supply, e,
                         "analyser and supply must both be emulated or both be real");
    return true;
}

bool bench_ports_read(struct bench_file *out, const struct xml *xml, struct error *e)
{
    const struct xml_node *root = xml_root(xml), *analyser = xml_child(root, "analyser"),
                          *supply = xml_child(root, "supply"),
                          *fixture = xml_child(root, "fixture");

    if (!read_instrument(&out->analyser, ROLE_ANALYSER, out->path, xml, analyser, e)) return false;
    if (!read_layout(out, xml, analyser, e)) return false;
    if (!read_instrument(&out->supply, ROLE_SUPPLY, out->path, xml, supply, e)) return false;
    if (!check_together(out, xml, supply, e)) return false;
    if (!fixture) return true;
    if (!xml_attribute(fixture, "port", &out->fixture, e)) return false;
    if (!check_port(out->fixture, ROLE_FIXTURE, xml, fixture, e)) return false;
    if (strcmp(out->fixture, out->analyser.port) != 0 &&
        strcmp(out->fixture, out->supply.port) != 0)
        return true;
    return xml_fault(xml, fixture, e, "the fixture cannot share the port of an instrument");
}
