/* Every largest size in the program, each with its reason. Nothing grows without one of these. */
#ifndef GAINSIEVE_BASE_CEILINGS_H
#define GAINSIEVE_BASE_CEILINGS_H

/* A sentence for a person; two long paths must fit. */
#define CEILING_ERROR_TEXT 2048
/* A sweep file: 100,001 points of nine 24-character numbers are 22 MB; more is not a sweep. */
#define CEILING_SWEEP_FILE ((size_t)64 << 20)
/* Points of one sweep: analysers stop at 100,001 (common practice); three times as many are read.
 */
#define CEILING_SWEEP_POINTS ((size_t)300000)
/* A limits file is written by hand. */
#define CEILING_XML_FILE ((size_t)4 << 20)
/* One tag of it: the longest attribute is a list of every bias step, 4,224 characters. The file's
 * own depth is four, and it needs one namespace; some room for what editors add. */
#define CEILING_XML_TAG ((size_t)16 << 10)
#define CEILING_XML_DEPTH ((size_t)32)
#define CEILING_XML_NAMESPACES ((size_t)16)
/* An index of 100,000 units at 64 bias steps with 100-character paths would be 640 MB; refuse above
 * what a careful person still opens. */
#define CEILING_INDEX_FILE ((size_t)256 << 20)
/* Cells of a CSV row: nine for a sweep, with room for columns of the user's own. */
#define CEILING_CSV_CELLS ((size_t)256)
/* One CSV cell; a path is the longest thing that belongs in one. */
#define CEILING_CSV_CELL ((size_t)8192)
/* Sweep files of one archive. */
#define CEILING_ARCHIVE_FILES ((size_t)4000000)
/* Folders below an archive's root, and how deep they may lie. */
#define CEILING_ARCHIVE_FOLDERS ((size_t)1000000)
#define CEILING_ARCHIVE_DEPTH 32
/* A serial number: fits a label, and a file name after escaping (three bytes a byte). */
#define CEILING_SERIAL ((size_t)64)
/* Highest attempt of one serial number. */
#define CEILING_ATTEMPTS 9999UL
/* Bias steps of a limits file; a bias set of a limit is one 64-bit word's worth of flags. */
#define CEILING_BIAS_STEPS ((size_t)64)
/* Bands and limits of a limits file, corner points of a mask line. */
#define CEILING_BANDS ((size_t)256)
#define CEILING_LIMITS ((size_t)256)
#define CEILING_MASK_POINTS ((size_t)4096)
/* Identifiers, titles and advice in a limits file. */
#define CEILING_ID ((size_t)64)
#define CEILING_NOTE ((size_t)4096)
/* A reason in words: one limit's, or one unit's. */
#define CEILING_REASON ((size_t)4096)
/* What a sweep file says of itself on a unit's sheet. */
#define CEILING_COMMENTS ((size_t)480)
/* A page or a CSV file under construction. */
#define CEILING_OUTPUT ((size_t)1 << 30)
/* Worker threads. */
#define CEILING_JOBS 256UL
/* Points of a drawn line: two to every five units of a picture. */
#define CEILING_PLOT_POINTS ((size_t)160)

#endif
