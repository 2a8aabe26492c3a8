/* The board on libsimavr. README.md says what it does and which rules of the chip's memories it holds the firmware to. */
#define _GNU_SOURCE
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <getopt.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include <simavr/avr_eeprom.h>
#include <simavr/avr_flash.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_hex.h>
#include <simavr/sim_io.h>

enum { FLASH_BYTES = 32768, EEPROM_BYTES = 1024, PAGE_BYTES = 128, PAGES = FLASH_BYTES / PAGE_BYTES };
enum { RAM = 0x100, RAM_END = 0x900, PAINT = 0xA5 };
enum { BOOT_SECTION = 0x7E00, RWW_END = 0x7000 };
enum { CLOCK_HZ = 16000000, BYTE_CYCLES = 1360, PAGE_CYCLES = CLOCK_HZ / 1000 * 4, LOOK_CYCLES = 4000 };
enum { START_CYCLES = 65 * (CLOCK_HZ / 1000) + 16384 /* with the fuses of README.md */, CONTACTS_MOST = 64 };
/* Addresses in data memory, and bits. */
enum { OCR1BL = 0x8A, OCR1AL = 0x88, TCCR2B = 0xB1, SPMCSR = 0x57, EECR = 0x3F };
enum { SPMEN = 1, PGERS = 2, PGWRT = 4, RWWSRE = 16, RWWSB = 64 };

static avr_t *avr;
static uint8_t *image; /* of flash memory, then of EEPROM: a file that outlives this process however it ends */
static volatile sig_atomic_t ended;

static _Noreturn void fail(const char *what)
{
    fprintf(stderr, "nano_bridge: %s", what);
    if (avr != NULL) {
        fprintf(stderr, " (cycle %llu, program counter %04x)", (unsigned long long)avr->cycle, (unsigned)avr->pc);
    }
    fputc('\n', stderr);
    exit(2);
}

/* Log: records of 8 bytes. */

static FILE *log_file;

static void record(char kind, uint16_t value, uint32_t cycles)
{
    uint8_t bytes[8] = {(uint8_t)kind, 0, (uint8_t)value, (uint8_t)(value >> 8), (uint8_t)cycles, (uint8_t)(cycles >> 8),
                        (uint8_t)(cycles >> 16), (uint8_t)(cycles >> 24)};
    if (log_file != NULL && fwrite(bytes, sizeof bytes, 1, log_file) != 1) {
        fail("cannot write the log");
    }
}

/* Both memories, and the cut in the middle of an operation on them. */

static uint8_t buffer[PAGE_BYTES];
static bool filled[PAGE_BYTES / 2], erased[PAGES];
static avr_cycle_count_t busy_until;
static bool busy_rww, eeprom_touched;
static long operations, cut_at;

/* Counts an operation that makes `memory` into `wanted`. In the one to be cut, each byte may be the old one, the new one or neither. */
static void change(uint8_t *memory, const uint8_t *wanted, size_t count)
{
    if (++operations != cut_at) {
        memcpy(memory, wanted, count);
        return;
    }
    for (size_t i = 0; i < count; i++) {
        int fate = rand() % 3;
        memory[i] = fate == 0 ? memory[i] : fate == 1 ? wanted[i] : memory[i] != wanted[i] ? (uint8_t)rand() : memory[i];
    }
    fprintf(stderr, "cut in operation %ld\n", operations);
    _exit(3);
}

static void change_page(unsigned page, const uint8_t *wanted)
{
    if (page * PAGE_BYTES < SLOTS || /* the Makefile's */ page * PAGE_BYTES >= BOOT_SECTION) {
        fail("a page outside the slots was to be changed");
    }
    change(image + page * PAGE_BYTES, wanted, PAGE_BYTES);
    memcpy(avr->flash + page * PAGE_BYTES, image + page * PAGE_BYTES, PAGE_BYTES);
    record('W', (uint16_t)(page * PAGE_BYTES), (uint32_t)avr->cycle);
    busy_until = avr->cycle + PAGE_CYCLES;
    busy_rww = page * PAGE_BYTES < RWW_END;
    if (!busy_rww) {
        avr->cycle = busy_until; /* the processor is halted */
    }
}

static void fill(unsigned word)
{
    if (filled[word]) {
        fail("a word of the page buffer was filled twice");
    }
    filled[word] = true;
    buffer[2 * word] = avr->data[0];
    buffer[2 * word + 1] = avr->data[1];
}

static void empty_buffer(void)
{
    memset(buffer, 0xFF, sizeof buffer);
    memset(filled, 0, sizeof filled);
}

static int self_program(avr_io_t *io, uint32_t ctl, void *parameter)
{
    (void)io;
    (void)parameter;
    if (ctl != AVR_IOCTL_FLASH_SPM) {
        return -1;
    }
    unsigned z = (unsigned)(avr->data[30] | avr->data[31] << 8) % FLASH_BYTES, page = z / PAGE_BYTES;
    uint8_t control = avr->data[SPMCSR] & 0x1F;
    if (avr->pc < BOOT_SECTION || (avr->cycle < busy_until && control != 0)) {
        fail("SPM outside the boot section or before the last one has ended");
    }
    if (control == (SPMEN | PGERS)) {
        uint8_t blank[PAGE_BYTES];
        memset(blank, 0xFF, sizeof blank);
        change_page(page, blank);
        erased[page] = true;
    } else if (control == (SPMEN | PGWRT)) {
        if (!erased[page]) {
            fail("a page was written that has not been erased since it was written last");
        }
        erased[page] = false;
        change_page(page, buffer);
        empty_buffer();
    } else if (control == (SPMEN | RWWSRE)) {
        busy_rww = false;
        empty_buffer();
    } else if (control == SPMEN) {
        fill(z % PAGE_BYTES / 2);
    } else {
        fail("SPM without a meaning");
    }
    avr->data[SPMCSR] = 0;
    return 0;
}

static uint8_t read_spmcsr(avr_t *of, avr_io_addr_t address, void *parameter)
{
    (void)parameter;
    uint8_t waiting = of->cycle < busy_until ? SPMEN : 0;
    return (uint8_t)((of->data[address] & ~(SPMEN | RWWSB)) | waiting | (busy_rww ? RWWSB : 0));
}

static void write_eecr(avr_t *of, avr_io_addr_t address, uint8_t value, void *parameter)
{
    (void)of;
    (void)address;
    (void)value;
    (void)parameter;
    eeprom_touched = true;
}

static uint8_t *eeprom(void)
{
    avr_eeprom_desc_t all = {.ee = NULL, .offset = 0, .size = 0};
    avr_ioctl(avr, AVR_IOCTL_EEPROM_GET, &all); /* returns -1 even where it succeeds */
    if (all.ee == NULL) {
        fail("this libsimavr shows no EEPROM");
    }
    return all.ee;
}

static void follow_eeprom(void)
{
    const uint8_t *now = eeprom();
    for (size_t i = 0; i < EEPROM_BYTES; i++) {
        if (now[i] != image[FLASH_BYTES + i]) {
            change(image + FLASH_BYTES + i, now + i, 1);
        }
    }
    eeprom_touched = false;
}

static void open_image(const char *path, const char *hex)
{
    int file = open(path, O_RDWR | O_CREAT, 0666);
    bool fresh = file >= 0 && lseek(file, 0, SEEK_END) == 0;
    if (file < 0 || ftruncate(file, FLASH_BYTES + EEPROM_BYTES) != 0) {
        fail("cannot open the image");
    }
    image = mmap(NULL, FLASH_BYTES + EEPROM_BYTES, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
    if (image == MAP_FAILED) {
        fail("cannot map the image");
    }
    close(file);
    if (!fresh) {
        return;
    }
    memset(image, 0xFF, FLASH_BYTES + EEPROM_BYTES);
    ihex_chunk_p chunks = NULL;
    int count = read_ihex_chunks(hex, &chunks);
    for (int i = 0; i < count; i++) {
        if (chunks[i].baseaddr + chunks[i].size > FLASH_BYTES) {
            fail("the program is larger than flash memory");
        }
        memcpy(image + chunks[i].baseaddr, chunks[i].data, chunks[i].size);
    }
    if (count <= 0) {
        fail("cannot read the program");
    }
}

/* Contacts of port C, as a hand moves them: in the order of their times. */
static struct { unsigned pin, at_us, level; } hand[CONTACTS_MOST];
static unsigned moves, moved, levels = 0x3F;

/* What is joined to pins is told twice: as they are now, and for when their pull-ups are switched on. */
static void hold_contacts(void)
{
    avr_ioport_external_t joined = {.name = 'C', .mask = 0x3F, .value = levels & 0x3F};
    avr_ioctl(avr, AVR_IOCTL_IOPORT_SET_EXTERNAL('C'), &joined);
    for (unsigned pin = 0; pin < 6; pin++) {
        avr_irq_t *of = avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('C'), (int)pin);
        avr_raise_irq(of, !(levels >> pin & 1)); /* only changes are passed on, and a reset is none */
        avr_raise_irq(of, levels >> pin & 1);
    }
}

/* Power, or reset. */
static void switch_on(void)
{
    avr_reset(avr);
    uint32_t flags = 0;
    avr_ioctl(avr, AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
    flags &= ~(uint32_t)(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    hold_contacts();
}

/* The serial line: one client at a time. */

static int listener = -1, client = -1;
static uint8_t in[4096], out[256];
static size_t in_at, in_count, out_count;
static avr_cycle_count_t next_byte, held_until;
static bool resets; /* whether who connects resets the chip, as a computer does that opens the port (DTR) */

static void listen_at(uint16_t port)
{
    struct sockaddr_in where = {.sin_family = AF_INET, .sin_port = htons(port), .sin_addr = {htonl(INADDR_LOOPBACK)}};
    socklen_t size = sizeof where;
    int on = 1;
    listener = socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK, 0);
    setsockopt(listener, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on);
    if (bind(listener, (struct sockaddr *)&where, sizeof where) != 0 || listen(listener, 1) != 0 ||
        getsockname(listener, (struct sockaddr *)&where, &size) != 0) {
        fail("cannot listen");
    }
    printf("socket://127.0.0.1:%d\n", ntohs(where.sin_port));
    fflush(stdout);
}

static void drop_client(void)
{
    close(client);
    client = -1;
    in_at = in_count = out_count = 0;
}

static void look_at_line(void)
{
    if (client < 0 && listener >= 0) {
        int on = 1;
        client = accept4(listener, NULL, NULL, SOCK_NONBLOCK);
        setsockopt(client, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
        out_count = 0;
        if (client >= 0 && resets) {
            switch_on();
            held_until = avr->cycle + START_CYCLES;
        }
        return;
    }
    if (client < 0) {
        return;
    }
    if (out_count > 0) {
        ssize_t sent = send(client, out, out_count, MSG_NOSIGNAL);
        if (sent > 0) {
            memmove(out, out + sent, out_count - (size_t)sent);
            out_count -= (size_t)sent;
        }
    }
    if (in_at == in_count) {
        ssize_t got = recv(client, in, sizeof in, 0);
        in_at = 0;
        in_count = got > 0 ? (size_t)got : 0;
        if (got == 0 || (got < 0 && errno != EAGAIN)) {
            drop_client();
        }
    }
}

static void byte_out(struct avr_irq_t *irq, uint32_t value, void *parameter)
{
    (void)irq;
    (void)parameter;
    if (out_count < sizeof out) {
        out[out_count++] = (uint8_t)value;
    }
}

static void feed_line(avr_irq_t *input)
{
    if (in_at < in_count && avr->cycle >= next_byte) {
        avr_raise_irq(input, in[in_at++]);
        next_byte = avr->cycle + BYTE_CYCLES;
    }
}

/* What the board puts out. */

static void sample_out(avr_t *of, avr_io_addr_t address, uint8_t value, void *parameter)
{
    (void)parameter;
    of->data[address] = value;
    if (address == OCR1BL) {
        record('S', (uint16_t)(of->data[OCR1AL] << 8 | value), (uint32_t)of->cycle);
    }
}

static void clock_started(avr_t *of, avr_io_addr_t address, uint8_t value, void *parameter)
{
    (void)address;
    (void)value;
    (void)parameter;
    record('P', 0, (uint32_t)of->cycle);
}

/* Of D2 to D8, D11 to D13: D0 to D7 are port D, D8 to D13 port B. */
static void pin_out(struct avr_irq_t *irq, uint32_t value, void *parameter)
{
    static uint32_t levels;
    unsigned pin = (unsigned)(uintptr_t)parameter;
    (void)irq;
    if ((levels >> pin & 1) != value) {
        levels ^= 1u << pin;
        record('E', (uint16_t)(pin << 8 | value), (uint32_t)avr->cycle);
    }
}

static void move_hand(void)
{
    while (moved < moves && avr->cycle >= (avr_cycle_count_t)hand[moved].at_us * (CLOCK_HZ / 1000000)) {
        levels = (levels & ~(1u << hand[moved].pin)) | hand[moved].level << hand[moved].pin;
        moved++;
        hold_contacts();
    }
}

static avr_io_t programmer = {.kind = "programmer", .ioctl = self_program};

static void build_board(void)
{
    avr = avr_make_mcu_by_name("atmega328p");
    if (avr == NULL) {
        fail("this libsimavr has no atmega328p");
    }
    avr_init(avr);
    avr->frequency = CLOCK_HZ;
    memcpy(avr->flash, image, FLASH_BYTES);
    avr->codeend = FLASH_BYTES;
    memset(avr->data + RAM, PAINT, RAM_END - RAM);
    avr_eeprom_desc_t marks = {.ee = image + FLASH_BYTES, .offset = 0, .size = EEPROM_BYTES};
    avr_ioctl(avr, AVR_IOCTL_EEPROM_SET, &marks);
    avr_register_io(avr, &programmer);
    avr_register_io_read(avr, SPMCSR, read_spmcsr, NULL);
    avr_register_io_write(avr, EECR, write_eecr, NULL);
    avr_register_io_write(avr, OCR1AL, sample_out, NULL);
    avr_register_io_write(avr, OCR1BL, sample_out, NULL);
    avr_register_io_write(avr, TCCR2B, clock_started, NULL);
    for (unsigned pin = 2; pin < 14; pin++) {
        if (pin != 9 && pin != 10) { /* pulses */
            avr_irq_t *of = avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(pin < 8 ? 'D' : 'B'), (int)(pin % 8));
            avr_irq_register_notify(of, pin_out, (void *)(uintptr_t)pin);
        }
    }
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), byte_out, NULL);
    switch_on();
}

static void no_sleep(avr_t *of, avr_cycle_count_t cycles)
{
    (void)of;
    (void)cycles;
}

/* The longest stretch of RAM that is still painted: where it is what lies between variables and stack, that much has never been used. */
static void tell_untouched(void)
{
    unsigned longest = 0, length = 0, end = 0;
    for (unsigned at = RAM; at < RAM_END; at++) {
        length = avr->data[at] == PAINT ? length + 1 : 0;
        if (length > longest) {
            longest = length;
            end = at + 1;
        }
    }
    fprintf(stderr, "untouched %u\nfrom %u\n", longest, end - longest);
}

/* No faster than `speed` times the real clock: who is connected needs time to answer. */
static void pace(unsigned speed)
{
    static struct timespec began;
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    if (began.tv_sec == 0) {
        began = now;
    }
    int64_t real_us = (int64_t)(now.tv_sec - began.tv_sec) * 1000000 + (now.tv_nsec - began.tv_nsec) / 1000;
    int64_t ahead_us = (int64_t)(avr->cycle / (CLOCK_HZ / 1000000)) / speed - real_us;
    if (ahead_us > 500) {
        usleep((useconds_t)ahead_us);
    }
}

/* A reset holds the chip, and what comes from the line is lost. */
static void hold(void)
{
    avr->cycle += LOOK_CYCLES;
    in_at = in_count;
}

static void run(unsigned speed, uint16_t port, uint64_t listen_ms, uint64_t until_ms)
{
    avr_irq_t *input = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT);
    avr_cycle_count_t look = 0;
    while (!ended && avr->cycle / (CLOCK_HZ / 1000) < until_ms) {
        int state = cpu_Running;
        if (avr->cycle < held_until) {
            hold();
        } else {
            state = avr_run(avr);
        }
        if (state == cpu_Done || state == cpu_Crashed) {
            fail("the processor has stopped");
        }
        if (busy_rww && avr->pc < RWW_END) {
            fail("program memory was run that cannot be read at present");
        }
        if (eeprom_touched) {
            follow_eeprom();
        }
        feed_line(input);
        move_hand();
        if (avr->cycle >= look) {
            look = avr->cycle + LOOK_CYCLES;
            if (listener < 0 && avr->cycle / (CLOCK_HZ / 1000) >= listen_ms) {
                listen_at(port);
            }
            look_at_line();
            pace(speed);
        }
    }
    tell_untouched();
    fprintf(stderr, "operations %ld\ncycles %llu\n", operations, (unsigned long long)avr->cycle);
}

static void end(int signal)
{
    (void)signal;
    ended = 1;
}

int main(int argc, char **argv)
{
    int option;
    uint16_t port = 0;
    unsigned speed = 1;
    uint64_t listen_ms = 0, until_ms = UINT64_MAX;
    while ((option = getopt(argc, argv, "p:l:k:s:c:x:e:q:r")) != -1) {
        if (option == 'p') {
            port = (uint16_t)atoi(optarg);
        } else if (option == 'l') {
            log_file = fopen(optarg, "wb");
        } else if (option == 'k') {
            cut_at = atol(optarg);
        } else if (option == 's') {
            srand((unsigned)atol(optarg));
        } else if (option == 'x') {
            speed = (unsigned)atoi(optarg);
        } else if (option == 'e') {
            until_ms = (uint64_t)atol(optarg);
        } else if (option == 'q') {
            listen_ms = (uint64_t)atol(optarg);
        } else if (option == 'r') {
            resets = true;
        } else if (option == 'c' && moves < CONTACTS_MOST &&
                   sscanf(optarg, "%u:%u:%u", &hand[moves].pin, &hand[moves].at_us, &hand[moves].level) == 3) {
            moves++;
        } else {
            fail("options: -p port, -l log, -k operation to be cut, -s seed, -c pin:us:level, -x speed, -e ms, -q ms, -r (README.md)");
        }
    }
    if (argc - optind != 2 || speed == 0) {
        fail("two arguments: the program (.hex) and the image, which is made where there is none");
    }
    signal(SIGTERM, end);
    open_image(argv[optind + 1], argv[optind]);
    empty_buffer();
    build_board();
    avr->sleep = no_sleep;
    run(speed, port, listen_ms, until_ms);
    if (log_file != NULL && fclose(log_file) != 0) {
        fail("cannot write the log");
    }
    return 0;
}
