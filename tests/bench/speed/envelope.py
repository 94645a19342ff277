"""What a general signal library takes to do a small part of the work: reads a 16-bit mono WAVE file, brings it down to
about 2 kHz, filters 200 to 400 Hz and takes the envelope. Prints the version of the library.

    python3 envelope.py FILE
"""

import sys

import numpy
import scipy
from scipy import fft, signal
from scipy.io import wavfile

rate, stored = wavfile.read(sys.argv[1])
samples = stored.astype(numpy.float32) / 32768
for factor in (11, 2):
    samples = signal.decimate(samples, factor, ftype="fir")
    rate /= factor
band = signal.butter(4, (200, 400), "bandpass", fs=rate, output="sos")
heard = signal.sosfilt(band, samples)
envelope = numpy.abs(signal.hilbert(heard, fft.next_fast_len(len(heard))))
if not numpy.isfinite(envelope).all():
    raise SystemExit("the envelope is not finite")
print(scipy.__version__)
