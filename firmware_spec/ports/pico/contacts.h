/* Contacts, selectors, the cells' voltage and the volume, as they are joined. */
#ifndef CONTACTS_H
#define CONTACTS_H

#include <stdbool.h>
#include <stdint.h>

#include "joints.h"

void contacts_open(const struct joints *joints);

/* Once a frame: bit i of `closed` is input i now, of `struck` whether it was found closed since the last call. The rest is brought up to date too. */
void contacts_read(uint32_t *closed, uint32_t *struck);

/* The position at which a selector has settled since contacts_open; false: none yet, or none is joined. */
bool contacts_position(uint8_t selector, uint8_t *position);

/* The wanted volume, 0..256; false: not measured yet, or nothing is joined. */
bool contacts_volume(uint16_t *wanted);

/* What the input of low cells measures, in 1/65536 of the largest; UINT16_MAX: nothing yet, or none is joined. */
uint16_t contacts_cells(void);

#endif
