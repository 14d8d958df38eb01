/* The smallest program with a vector table, for the ELF reader's tests.

   Recipe (Debian 12, gcc-arm-none-eabi 12.2.rel1):
     arm-none-eabi-gcc -mcpu=cortex-m4 -mthumb -Os -nostdlib -ffreestanding -Wl,--build-id=none -Wl,-T,blink.ld \
         -o blink.elf blink.c
     arm-none-eabi-objcopy -O ihex blink.elf blink.hex
     arm-none-eabi-objcopy -O binary blink.elf blink.bin
     arm-none-eabi-strip blink.elf
   blink.hex and blink.bin were written by objcopy, so they check our readers from outside. */
typedef unsigned int word;
extern word _stack_top, _data_start, _data_end, _data_load;
static volatile word counter = 0x12345678; /* in .data: loaded to flash, run from RAM */
static const char name[] __attribute__((used, section(".words"))) = "wrackline-2";
void reset(void) {
    word *from = &_data_load, *to = &_data_start;
    while (to < &_data_end) *to++ = *from++;
    for (;;) counter++;
}
__attribute__((used, section(".vectors"))) static void *const vectors[98] = {&_stack_top, (void *)reset};
