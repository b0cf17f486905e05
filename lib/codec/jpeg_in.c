/*
 * JPEG in, through libjpeg-turbo. Its warnings about the data mean that pixels were made up, so
 * they are errors here. A progressive picture is held whole by the library, as coefficients.
 */
#include "codec/jpeg.h"

#include "frame/keys.h"
#include <errno.h>
#include <fcntl.h>
#include <jerror.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Files seen have up to 20 scans; each costs time for the whole picture, however small the file. */
enum { SCANS_MOST = 200 };

struct reader {
    struct carn_jpeg_errors errors;
    struct jpeg_progress_mgr progress;
    struct jpeg_decompress_struct jpeg;
    struct carn_source *source;
    FILE *file;
    unsigned char *row;
    bool created, started;
};

static void leave(j_common_ptr jpeg)
{
    struct carn_jpeg_errors *errors = (struct carn_jpeg_errors *)jpeg->err;
    char text[JMSG_LENGTH_MAX];
    errors->manager.format_message(jpeg, text);
    if (!errors->reading)
        carn_fail_at(errors->err, CARN_SYSTEM, errors->label, "JPEG cannot be written: %s", text);
    else if (errors->manager.msg_code == JERR_BAD_PRECISION)
        carn_fail_at(errors->err, CARN_INPUT, errors->label,
                     "JPEG of %d bits a sample is not handled", errors->manager.msg_parm.i[0]);
    else if (errors->manager.msg_code == JERR_SOF_UNSUPPORTED)
        carn_fail_at(errors->err, CARN_INPUT, errors->label,
                     "JPEG of a kind that is not handled (lossless or hierarchical)");
    else if (errors->manager.msg_code == JWRN_JPEG_EOF)
        carn_fail_at(errors->err, CARN_INPUT, errors->label, "JPEG cut short at row %u",
                     *errors->row);
    else
        carn_fail_at(errors->err, CARN_INPUT, errors->label, "JPEG damaged at row %u: %s",
                     *errors->row, text);
    longjmp(errors->back, 1);
}

/* level -1 is a warning. Those that touch no pixel are let pass: an odd version, and stray bytes
 * before the first scan. */
static void on_message(j_common_ptr jpeg, int level)
{
    int code = jpeg->err->msg_code;
    if (level >= 0 || code == JWRN_JFIF_MAJOR || code == JWRN_ADOBE_XFORM)
        return;
    if (code == JWRN_EXTRANEOUS_DATA && jpeg->is_decompressor &&
        ((j_decompress_ptr)jpeg)->input_scan_number == 0)
        return;
    leave(jpeg);
}

static void on_output(j_common_ptr jpeg)
{
    (void)jpeg;
}

void carn_jpeg_errors_set(struct carn_jpeg_errors *errors, const char *label, bool reading)
{
    static JDIMENSION nowhere;
    jpeg_std_error(&errors->manager);
    errors->manager.error_exit = leave;
    errors->manager.emit_message = on_message;
    errors->manager.output_message = on_output;
    errors->label = label;
    errors->reading = reading;
    errors->row = &nowhere;
}

static void on_progress(j_common_ptr jpeg)
{
    struct carn_jpeg_errors *errors = (struct carn_jpeg_errors *)jpeg->err;
    if (((j_decompress_ptr)jpeg)->input_scan_number <= SCANS_MOST)
        return;
    carn_fail_at(errors->err, CARN_LIMIT, errors->label, "JPEG of more than %d scans", SCANS_MOST);
    longjmp(errors->back, 1);
}

static void read_close(void *state)
{
    struct reader *reader = state;
    if (reader->created)
        jpeg_destroy_decompress(&reader->jpeg);
    if (reader->file != NULL)
        (void)fclose(reader->file);
    free(reader->row);
    free(reader);
}

static int read_header(struct reader *reader)
{
    if (setjmp(reader->errors.back) != 0)
        return -1;
    jpeg_create_decompress(&reader->jpeg);
    reader->created = true;
    reader->progress.progress_monitor = on_progress;
    reader->jpeg.progress = &reader->progress;
    reader->errors.row = &reader->jpeg.output_scanline;
    jpeg_stdio_src(&reader->jpeg, reader->file);
    (void)jpeg_read_header(&reader->jpeg, TRUE);
    return 0;
}

static int check_colours(struct reader *reader, struct carn_error *err)
{
    const char *label = reader->source->label;
    switch (reader->jpeg.jpeg_color_space) {
    case JCS_GRAYSCALE:
        reader->jpeg.out_color_space = JCS_GRAYSCALE;
        return 0;
    case JCS_RGB:
    case JCS_YCbCr:
        reader->jpeg.out_color_space = JCS_RGB;
        return 0;
    case JCS_CMYK:
    case JCS_YCCK:
        return carn_fail_at(err, CARN_INPUT, label, "JPEG in CMYK is not handled");
    default:
        return carn_fail_at(err, CARN_INPUT, label, "JPEG of %d channels is not handled",
                            reader->jpeg.num_components);
    }
}

static int start(struct reader *reader)
{
    if (setjmp(reader->errors.back) != 0)
        return -1;
    reader->jpeg.dct_method = JDCT_ISLOW;
    (void)jpeg_start_decompress(&reader->jpeg);
    reader->started = true;
    return 0;
}

static int open_file(struct reader *reader, struct carn_error *err)
{
    const char *label = reader->source->label;
    if (lseek(reader->source->fd, 0, SEEK_SET) < 0)
        return carn_fail_at(err, CARN_SYSTEM, label, "cannot seek: %s", strerror(errno));
    int fd = fcntl(reader->source->fd, F_DUPFD_CLOEXEC, 3);
    reader->file = fd < 0 ? NULL : fdopen(fd, "rb");
    if (reader->file != NULL)
        return 0;
    carn_fail_at(err, CARN_SYSTEM, label, "cannot be opened: %s", strerror(errno));
    if (fd >= 0)
        close(fd);
    return -1;
}

static int begin(struct reader *reader, struct carn_frame *frame, struct carn_error *err)
{
    struct carn_source *source = reader->source;
    struct jpeg_decompress_struct *jpeg = &reader->jpeg;
    carn_jpeg_errors_set(&reader->errors, source->label, true);
    reader->errors.err = err;
    jpeg->err = &reader->errors.manager;
    if (open_file(reader, err) != 0 || read_header(reader) != 0 ||
        carn_source_pixels(source, jpeg->image_width, jpeg->image_height, err) != 0 ||
        check_colours(reader, err) != 0)
        return -1;
    uint64_t coefficients =
        (uint64_t)jpeg->image_width * jpeg->image_height * 2 * (uint64_t)jpeg->num_components;
    if (jpeg_has_multiple_scans(jpeg) &&
        carn_source_hold(source, coefficients, "a progressive picture", err) != 0)
        return -1;
    frame->width = jpeg->image_width;
    frame->height = jpeg->image_height;
    frame->colours = jpeg->out_color_space == JCS_GRAYSCALE ? 1 : 3;
    reader->row = carn_alloc(frame->width, frame->colours, err);
    if (reader->row == NULL || carn_frame_set_depth(frame, 8, err) != 0 ||
        carn_frame_set_orientation(frame, 1, err) != 0)
        return -1;
    return carn_jpeg_segments(source, frame, err);
}

static void *read_open(struct carn_source *source, struct carn_frame *frame, struct carn_error *err)
{
    struct reader *reader = carn_alloc(1, sizeof *reader, err);
    if (reader == NULL)
        return NULL;
    reader->source = source;
    if (begin(reader, frame, err) != 0) {
        read_close(reader);
        return NULL;
    }
    return reader;
}

/* After the last row, the end of the picture too. */
static int read_one(struct reader *reader)
{
    JSAMPROW rows[1] = {reader->row};
    if (setjmp(reader->errors.back) != 0)
        return -1;
    if (jpeg_read_scanlines(&reader->jpeg, rows, 1) != 1)
        ERREXIT(&reader->jpeg, JERR_CANT_SUSPEND);
    if (reader->jpeg.output_scanline == reader->jpeg.output_height)
        (void)jpeg_finish_decompress(&reader->jpeg);
    return 0;
}

static int read_row(void *state, uint16_t *row, struct carn_error *err)
{
    struct reader *reader = state;
    reader->errors.err = err;
    if (!reader->started && start(reader) != 0)
        return -1;
    if (read_one(reader) != 0)
        return -1;
    carn_widen_row(reader->row, row,
                   (size_t)reader->jpeg.output_width * (size_t)reader->jpeg.output_components);
    return 0;
}

const struct carn_format carn_format_jpeg = {
    .name = "JPEG",
    .suffixes = "jpg jpeg jpe",
    .magic = {"\xff\xd8\xff"},
    .magic_size = 3,
    .alpha = CARN_ALPHA_NONE,
    .depths = 8,
    .quality = true,
    .read_open = read_open,
    .read_row = read_row,
    .read_close = read_close,
    .write_open = carn_jpeg_write_open,
    .write_row = carn_jpeg_write_row,
    .write_end = carn_jpeg_write_end,
    .write_close = carn_jpeg_write_close,
};
