package figure

var (
	radialFront = []limbPoint{{-11, 0}, {-10.7, 10}, {-10.1, 20}, {-10.5, 27}, {-11.6, 33}, {-12.7, 41}, {-12.3, 52}, {-10.9, 66}, {-9.2, 79}, {-7, 89.4}, {-3, 95.4},
		{2, 95.8}, {6.2, 90}, {8.2, 79}, {9.7, 66}, {11, 52}, {11.5, 43}, {11.1, 37.4}, {12, 33}, {10.7, 28.4}, {10.1, 20}, {10.7, 10}, {11, 0}}
	radialOuter = []limbPoint{{-11, 0}, {-11.3, 10}, {-10.8, 20}, {-10.6, 28}, {-11.7, 33.4}, {-10.4, 38.6}, {-9.9, 48}, {-9.3, 62}, {-8.1, 77}, {-5.8, 89.4}, {-1, 95.6},
		{4, 93}, {6.6, 84}, {8.1, 72}, {9.6, 58}, {10.4, 47}, {9.8, 39.4}, {9.1, 34.6}, {9.8, 28}, {11, 18}, {11.4, 8}, {11, 0}}
)

var transradial = limbDrawing{height: 97, views: [4]limbView{
	{
		outline: [][]limbPoint{radialFront},
		bones:   [][]limbPoint{radialHumerusBone, radialRadiusBone, radialUlnaBone},
		cut:     []limbPoint{{11, 0}, {0, 1.4}, {-11, 0}},
		lines: [][]limbPoint{
			{{-9.2, 36}, {-3, 37.6}, {3, 37.6}, {9.6, 36.2}},
			{{-1.6, 18}, {-1, 28}, {-0.6, 36}},
			{{2, 18}, {1.8, 28}, {1.4, 36}},
		},
		scar: []limbPoint{{-4.6, 92.4}, {-1, 93.6}, {2.4, 93.4}, {5, 91.4}},
		spots: map[string]limbPoint{"biceps tendon": {0.7, 29.4}, "cubital fold": {3.4, 36}, "volar forearm": {0, 60}, "distal radius": {-4.4, 85}, "distal ulna": {4.4, 85},
			"medial epicondyle": {10.2, 32.6}, "lateral epicondyle": {-9.8, 32.4}, "radial head": {-7.4, 39.6}, "anterior brim": {0, 21}, "medial brim": {8.8, 20}, "lateral brim": {-8.6, 20},
			"anterior proximal": {-2.6, 46}, "anterior mid": {3.4, 68}, "anterior distal": {0, 77}, "distal end": {-0.4, 95}, "scar": {3.4, 92.6}},
	},
	{
		outline: [][]limbPoint{flipped(radialFront)},
		bones:   [][]limbPoint{flipped(radialHumerusBone), flipped(radialRadiusBone), flipped(radialUlnaBone), olecranonBone},
		cut:     []limbPoint{{-11, 0}, {0, 1.4}, {11, 0}},
		lines: [][]limbPoint{
			{{-4.6, 6}, {-4.8, 16}, {-3, 26}},
			{{4.6, 6}, {4.8, 16}, {3, 26}},
		},
		spots: map[string]limbPoint{"olecranon": {-0.2, 34.4}, "ulnar nerve groove": {-7, 33.4}, "triceps bar": {0, 21}, "dorsal forearm": {4.2, 56}, "ulnar crest": {-2.6, 58},
			"distal ulna": {-4.4, 85}, "distal radius": {4.4, 85}, "radial head": {7, 40.4}, "posterior brim": {0, 14}, "posterior proximal": {3.6, 46}, "posterior mid": {3.4, 68},
			"posterior distal": {0, 77}, "distal end": {0.4, 95}, "medial epicondyle": {-10.4, 32}, "lateral epicondyle": {10, 32.4}},
	},
	{
		outline: [][]limbPoint{flipped(radialOuter)},
		bones:   [][]limbPoint{flipped(radialHumerusSideBone), flipped(radialUlnaSideBone)},
		cut:     []limbPoint{{-11, 0}, {0, 1.4}, {11, 0}},
		lines: [][]limbPoint{
			{{-9, 35.4}, {-6.6, 36.6}, {-5, 36}},
		},
		spots: map[string]limbPoint{"medial epicondyle": {0, 33.6}, "ulnar nerve groove": {4.8, 34}, "medial brim": {0, 20}, "medial proximal": {-1.6, 48}, "medial mid": {-1, 64},
			"medial distal": {0, 76}, "distal ulna": {1.8, 85}, "olecranon": {9.6, 34}, "ulnar crest": {6.6, 60}, "distal end": {0.6, 95}},
	},
	{
		outline: [][]limbPoint{radialOuter},
		bones:   [][]limbPoint{radialHumerusSideBone, radialUlnaSideBone, radialRadiusSideBone},
		cut:     []limbPoint{{11, 0}, {0, 1.4}, {-11, 0}},
		lines: [][]limbPoint{
			{{9, 35.4}, {6.6, 36.6}, {5, 36}},
		},
		spots: map[string]limbPoint{"lateral epicondyle": {-1, 32.6}, "radial head": {0.6, 41}, "lateral brim": {0, 20}, "lateral proximal": {2.4, 50}, "lateral mid": {0, 64},
			"lateral distal": {0, 76}, "distal radius": {-0.6, 85}, "olecranon": {-9.6, 34}, "distal end": {-0.6, 95}},
	},
}}

var (
	humeralFront = []limbPoint{{13.4, 2}, {12.6, 7}, {8, 10.6}, {0, 12.6}, {-6.6, 15}, {-11.4, 19.6}, {-14.4, 27}, {-15.3, 36}, {-14.6, 47}, {-13.3, 60}, {-12.2, 73},
		{-10.4, 85}, {-6.8, 93}, {-2, 95.4}, {2.2, 92}, {4.3, 84}, {4.9, 73}, {5.2, 62}, {5.7, 53.4}, {6.4, 48}}
	humeralCap = []limbPoint{{0, 12.4}, {7.4, 14.8}, {12, 22}, {12.8, 32}, {11.3, 43}, {9.8, 56}, {9, 70}, {7.9, 82}, {5.2, 91}, {0, 95.2}, {-5.2, 91}, {-7.9, 82},
		{-9.2, 70}, {-10.1, 56}, {-11.6, 43}, {-12.8, 32}, {-12, 22}, {-7.4, 14.8}, {0, 12.4}}
)

var transhumeral = limbDrawing{height: 97, views: [4]limbView{
	{
		outline: [][]limbPoint{humeralFront, {{6.4, 48}, {7.8, 55}, {8.8, 64}, {9.2, 73}}},
		bones:   [][]limbPoint{humeralHumerusBone, humeralClavicleBone},
		cut:     []limbPoint{{9.2, 73}, {15, 74}, {21, 73}, {21, 73}, {21, 36}, {21, 2}, {21, 2}, {17, 2.6}, {13.4, 2}},
		lines: [][]limbPoint{
			{{-9.4, 20.6}, {-8.4, 17.6}, {-5, 16.6}},
			{{4.4, 24}, {2.6, 31}, {-2, 40}, {-7.4, 48}},
			{{6.4, 48}, {9, 43}, {15, 39.4}},
		},
		scar: []limbPoint{{-8.2, 90.2}, {-5, 92.6}, {-1, 92.8}, {2, 90.6}},
		spots: map[string]limbPoint{"acromion": {-7, 17.6}, "clavicle": {10, 14.8}, "coracoid": {4.4, 21.4}, "deltopectoral groove": {-1.6, 31.6}, "axillary fold": {8, 45},
			"distal humerus": {-4.2, 84.6}, "distal end": {-2.6, 94.6}, "scar": {0.4, 91.6}, "anterior brim": {-4, 24}, "lateral brim": {-13, 30}, "medial brim": {4.6, 55},
			"anterior proximal": {-8, 38}, "anterior mid": {-4, 60}, "anterior distal": {-3.4, 75}, "axilla": {5.6, 50}},
	},
	{
		outline: [][]limbPoint{flipped(humeralFront), {{-6.4, 48}, {-7.8, 55}, {-8.8, 64}, {-9.2, 73}}},
		bones:   [][]limbPoint{flipped(humeralHumerusBone), humeralScapulaBone},
		cut:     []limbPoint{{-9.2, 73}, {-15, 74}, {-21, 73}, {-21, 73}, {-21, 36}, {-21, 2}, {-21, 2}, {-17, 2.6}, {-13.4, 2}},
		lines: [][]limbPoint{
			{{-18, 24.8}, {-11, 22.6}, {-2, 19.6}, {6.4, 18.2}},
			{{-6.4, 48}, {-4.4, 44}, {1, 41.6}},
		},
		spots: map[string]limbPoint{"spine of scapula": {-9, 21.8}, "acromion": {7, 17.8}, "axillary fold": {-5.6, 44}, "posterior proximal": {6, 36}, "posterior mid": {4, 60},
			"posterior distal": {3.4, 75}, "distal humerus": {4.2, 84.6}, "distal end": {2.6, 94.6}, "posterior brim": {0, 28}},
	},
	{
		outline: [][]limbPoint{{{-11.4, 42}, {-9.8, 56}, {-9, 70}, {-7.9, 82}, {-5.2, 91}, {0, 95.2}, {5.2, 91}, {7.9, 82}, {9.2, 70}, {10.1, 56}, {11.6, 42}}},
		bones:   [][]limbPoint{humeralInnerBone},
		cut:     []limbPoint{{11.6, 42}, {6, 45.6}, {0, 44.6}, {-6, 45.6}, {-11.4, 42}},
		lines: [][]limbPoint{
			{{-7, 45.6}, {-5.6, 48.6}, {0, 49.8}, {6, 48.6}, {7.4, 45.6}},
		},
		spots: map[string]limbPoint{"axilla": {0, 47.4}, "axillary fold": {-8, 46.4}, "medial brim": {3, 53}, "medial proximal": {-2, 59}, "medial mid": {0, 67}, "medial distal": {0, 76},
			"distal humerus": {0, 85}, "distal end": {0, 94.4}},
	},
	{
		outline: [][]limbPoint{humeralCap},
		bones:   [][]limbPoint{humeralSideBone},
		cut:     []limbPoint{{0, 12.4}, {0, 12.4}},
		lines: [][]limbPoint{
			{{-5.6, 17.6}, {-1, 15.6}, {4.8, 17}},
			{{-9, 38}, {-5, 47}, {-1.6, 55}},
			{{9, 38}, {5, 47}, {1.6, 55}},
		},
		spots: map[string]limbPoint{"acromion": {0, 17.4}, "lateral brim": {0, 28}, "lateral proximal": {0, 40}, "lateral mid": {0, 62}, "lateral distal": {0, 75}, "distal humerus": {0, 85},
			"distal end": {0, 94.4}},
	},
}}
