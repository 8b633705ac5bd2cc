/* For bench_file_read.c: what of a bench file names something outside it. */
#ifndef GAINSIEVE_BENCH_FILE_PORTS_H
#define GAINSIEVE_BENCH_FILE_PORTS_H

#include "drivers/base/xml.h"
#include "drivers/bench_file.h"

/* Analyser, supply and fixture of the file. ERROR_INPUT; what was read is in `out` all the same,
 * for bench_file_clear(). `out->path` is known. */
bool bench_ports_read(struct bench_file *out, const struct xml *xml, struct error *e) MUST_CHECK;

/* A path of the file, as seen from the current folder: relative ones begin at the folder of
 * `bench_path`. NULL when the attribute is absent. Freed by the caller. */
bool bench_path_read(char **out, const char *bench_path, const struct xml_node *node,
                     const char *attribute, struct error *e) MUST_CHECK;

/* The serial number of the reference unit, as fit for a folder's name as any other. */
bool bench_serial_read(char **out, const struct xml *xml, const struct xml_node *node,
                       struct error *e) MUST_CHECK;

#endif
