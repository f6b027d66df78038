package figure

var (
	tibialFront = []limbPoint{{-17.5, 0}, {-16.6, 9}, {-15.2, 18}, {-14.7, 24}, {-15.6, 30}, {-14.8, 35.5}, {-14.5, 39}, {-15.3, 43.5}, {-15, 52},
		{-13.8, 62}, {-12.1, 74}, {-10.2, 84}, {-7.6, 92}, {-2.6, 96.8}, {2.8, 96.8}, {7.6, 92}, {9.8, 84}, {11.4, 74}, {13, 62}, {14.1, 52}, {14.6, 44},
		{14.3, 38}, {15.5, 31}, {15.4, 25}, {15.9, 17}, {16.8, 9}, {17.5, 0}}
	tibialOuter = []limbPoint{{-15.5, 0}, {-14.8, 9}, {-13, 19}, {-11.3, 28}, {-10.8, 35}, {-12.6, 43}, {-14.5, 52}, {-14.2, 62}, {-12.3, 74}, {-10, 84.5},
		{-7.2, 92}, {-2, 96.9}, {3.2, 96.4}, {7, 91.6}, {8.7, 84}, {9.9, 75}, {11, 64}, {12, 54}, {13, 47}, {14, 42.6}, {13.7, 38.6}, {14.5, 34.4}, {16.5, 30.4},
		{17.2, 26}, {16.3, 21.6}, {14.9, 18}, {15.4, 10}, {16.4, 0}}
)

var transtibial = limbDrawing{height: 97, views: [4]limbView{
	{
		outline: [][]limbPoint{tibialFront},
		bones:   [][]limbPoint{tibialFemurBone, tibialTibiaBone, tibialFibulaBone, tibialPatellaBone},
		cut:     []limbPoint{{17.5, 0}, {0, 1.6}, {-17.5, 0}},
		lines: [][]limbPoint{
			{{-2.4, 33.2}, {-1.9, 36.5}, {-1.8, 40}},
			{{2.4, 33.2}, {2.1, 36.5}, {2, 40}},
			{{-2.9, 44.5}, {-2, 41.4}, {0.1, 40.4}, {2.2, 41.4}, {2.9, 44.5}},
			{{0.4, 47}, {1.5, 55}, {1.4, 66}, {0.8, 77}},
			{{11.6, 4}, {12.6, 11}, {11, 18}},
		},
		scar: []limbPoint{{-8, 89.6}, {-3, 92.8}, {3, 92.7}, {8.1, 89.2}},
		spots: map[string]limbPoint{
			"patella": {0, 27}, "patellar tendon": {0, 36.6}, "tibial tubercle": {0, 43}, "tibial crest": {1.6, 63}, "anterior distal tibia": {0, 85.6},
			"fibular head": {-10.9, 43.6}, "medial tibial flare": {10.4, 44}, "medial tibial shaft": {7, 65}, "pretibial muscles": {-6.4, 58},
			"lateral tibial condyle": {-8.6, 37.2}, "medial femoral condyle": {11.6, 30}, "lateral femoral condyle": {-11.6, 30}, "distal fibula": {-7.8, 81.6},
			"distal end": {0, 95.4}, "scar": {4.8, 91.8}, "anterior brim": {0, 16}, "medial brim": {13.4, 21}, "lateral brim": {-12.8, 21},
			"anterior proximal": {5.6, 51}, "anterior mid": {-3.4, 69}, "anterior distal": {4.4, 78},
		},
	},
	{
		outline: [][]limbPoint{flipped(tibialFront)},
		bones:   [][]limbPoint{flipped(tibialFibulaBone)},
		cut:     []limbPoint{{-17.5, 0}, {0, 1.6}, {17.5, 0}},
		lines: [][]limbPoint{
			{{7.6, 4}, {9.4, 18}, {10.8, 31}, {11.4, 38.6}},
			{{-6.4, 4}, {-8.6, 18}, {-10.2, 31}, {-10.8, 40}},
			{{-8.8, 34.6}, {-3, 36.2}, {3, 36}, {9.2, 34.4}},
			{{-9.6, 42}, {-5, 47}, {-0.4, 50}},
			{{8.6, 43}, {5, 47}, {0.4, 50}},
			{{0, 51.4}, {0.5, 60}, {0.2, 70}},
			{{-7.6, 70}, {-4, 75.4}, {0, 73}, {4, 76}, {7, 71}},
		},
		spots: map[string]limbPoint{
			"popliteal area": {0, 37.4}, "posterior compartment": {0, 60}, "medial hamstring": {-9.7, 25}, "lateral hamstring": {10, 25}, "hamstrings": {0, 22},
			"distal end": {0, 95.4}, "posterior brim": {0, 44}, "posterior proximal": {6, 51}, "posterior mid": {-5, 68}, "posterior distal": {0, 84},
			"common peroneal nerve": {11.6, 46}, "fibular head": {12.4, 41.4},
		},
	},
	{
		outline: [][]limbPoint{flipped(tibialOuter)},
		bones:   [][]limbPoint{flipped(tibialFemurSideBone), flipped(tibialTibiaSideBone), flipped(tibialPatellaSideBone)},
		cut:     []limbPoint{{-16.4, 0}, {0, 1.6}, {15.5, 0}},
		lines: [][]limbPoint{
			{{-14.2, 34.4}, {-13, 37}, {-12.2, 40}},
			{{9.6, 6}, {9, 20}, {7.4, 32}, {3, 41}, {-4.6, 47}},
			{{4.6, 52}, {3.4, 62}, {4, 74}},
		},
		spots: map[string]limbPoint{
			"medial femoral condyle": {-3.4, 30}, "adductor tubercle": {3.2, 22.4}, "medial tibial flare": {-4.6, 44.4}, "medial tibial shaft": {-6.6, 64},
			"medial hamstring": {8.2, 26}, "medial brim": {-1, 15}, "medial proximal": {0, 51}, "medial mid": {-0.6, 69}, "medial distal": {1.4, 82},
			"anterior distal tibia": {-5.2, 86}, "distal end": {-0.6, 95.4},
		},
	},
	{
		outline: [][]limbPoint{tibialOuter},
		bones:   [][]limbPoint{tibialFemurSideBone, tibialTibiaSideBone, tibialFibulaSideBone, tibialPatellaSideBone},
		cut:     []limbPoint{{16.4, 0}, {0, 1.6}, {-15.5, 0}},
		lines: [][]limbPoint{
			{{14.2, 34.4}, {13, 37}, {12.2, 40}},
			{{-8.6, 6}, {-8.4, 22}, {-6.6, 36}, {-5, 40.4}},
			{{-7.6, 50}, {-8.6, 60}, {-7.2, 72}},
		},
		spots: map[string]limbPoint{
			"fibular head": {-3.6, 43.8}, "common peroneal nerve": {-7, 49.6}, "lateral fibular shaft": {-2.6, 64}, "distal fibula": {-1.1, 82},
			"lateral femoral condyle": {4, 29}, "lateral tibial condyle": {6.4, 39.4}, "lateral hamstring": {-8.4, 23}, "lateral brim": {1, 15},
			"pretibial muscles": {7, 58}, "lateral proximal": {2.2, 50}, "lateral mid": {3, 69}, "lateral distal": {2.6, 90}, "distal end": {-0.6, 95.4},
		},
	},
}}
