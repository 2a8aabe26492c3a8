/* Semihosting on the host itself, for flash.c without a machine around it. */
#include <stdio.h>
#include <string.h>

#include "flash.h"
#include "semihost.h"

static FILE *files[16];
static int32_t opened;
static char said[4096];
int disk_full; /* the test's to set */

const char *take_said(void);

const char *take_said(void)
{
    static char taken[sizeof said];
    memcpy(taken, said, sizeof taken);
    said[0] = 0;
    return taken;
}

int32_t host_open(const char *path, enum host_mode mode)
{
    files[opened] = fopen(path, mode == HOST_UPDATE ? "r+b" : "wb");
    if (files[opened] == NULL) {
        return -1;
    }
    setvbuf(files[opened], NULL, _IONBF, 0);
    return opened++;
}

bool host_close(int32_t file)
{
    return file >= 0 && fclose(files[file]) == 0;
}

bool host_seek(int32_t file, uint32_t place)
{
    return fseek(files[file], (long)place, SEEK_SET) == 0;
}

bool host_write(int32_t file, const void *bytes, uint32_t count)
{
    return !disk_full && fwrite(bytes, 1, count, files[file]) == count;
}

uint32_t host_read(int32_t file, void *bytes, uint32_t count)
{
    return (uint32_t)fread(bytes, 1, count, files[file]);
}

void host_say(const char *text)
{
    strncat(said, text, sizeof said - strlen(said) - 1);
}
