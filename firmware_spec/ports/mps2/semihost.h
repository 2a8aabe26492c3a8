/* Files and messages of the computer that emulates this one (Arm semihosting). */
#ifndef SEMIHOST_H
#define SEMIHOST_H

#include <stdbool.h>
#include <stdint.h>

enum host_mode { HOST_READ = 1, HOST_UPDATE = 3, HOST_WRITE = 5 }; /* rb, r+b, wb */

/* A handle; below 0: it cannot be opened. HOST_WRITE makes the file. */
int32_t host_open(const char *path, enum host_mode mode);
bool host_close(int32_t file);
bool host_seek(int32_t file, uint32_t place);
bool host_write(int32_t file, const void *bytes, uint32_t count);
/* How many bytes were read: fewer only at the end of the file. */
uint32_t host_read(int32_t file, void *bytes, uint32_t count);
/* The arguments behind the program's name, with a 0 behind them. false: there is not room enough. */
bool host_arguments(char *text, uint32_t room);
void host_say(const char *text); /* on standard error */
void host_exit(uint32_t status) __attribute__((noreturn));

#endif
